-- Version 8: a checklist of taxa, against which the names of finds are looked up. Names of finds stay as
-- they are written.

CREATE TABLE checklist (
  id INTEGER PRIMARY KEY NOT NULL,
  key TEXT NOT NULL,
  name TEXT NOT NULL,
  author TEXT,
  rank TEXT,
  status TEXT,
  accepted_id INTEGER,
  unresolved TEXT,
  lineage_id INTEGER NOT NULL
);
CREATE INDEX checklist_by_key ON checklist(key);

CREATE TABLE checklist_lineages (
  id INTEGER PRIMARY KEY NOT NULL,
  kingdom TEXT,
  phylum TEXT,
  class TEXT,
  order_name TEXT,
  family TEXT,
  genus TEXT
);

-- The first words of all names, for names that are misspelt.
CREATE TABLE checklist_genera (
  id INTEGER PRIMARY KEY NOT NULL,
  name TEXT NOT NULL UNIQUE
);
