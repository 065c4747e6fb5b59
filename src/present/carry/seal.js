// Opens what is encrypted: AES-256-GCM under a key by PBKDF2 with HMAC-SHA-256, from the browser's own
// cryptography. A wrong passphrase opens nothing.
const seal = (() => {
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const open = async (sealed, passphrase) => {
    const { subtle } = crypto;
    const secret = await subtle.importKey("raw", new TextEncoder().encode(passphrase.trim()), "PBKDF2", false, ["deriveKey"]);
    const key = await subtle.deriveKey(
      { name: "PBKDF2", hash: "SHA-256", salt: bytes(sealed.salt), iterations: sealed.iterations },
      secret, { name: "AES-GCM", length: 256 }, false, ["decrypt"],
    );
    const plain = await subtle.decrypt({ name: "AES-GCM", iv: bytes(sealed.nonce) }, key, bytes(sealed.data));
    return JSON.parse(new TextDecoder().decode(plain));
  };
  return { open };
})();
