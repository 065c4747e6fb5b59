-- Version 3: what questions over all years read instead of every way and record. Made from those; a row
-- goes the moment that what it was made from changes, whichever program changes it.

CREATE TABLE brief_ways (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  outing_id INTEGER NOT NULL UNIQUE REFERENCES outings(id) ON DELETE CASCADE,
  method INTEGER NOT NULL,
  packed BLOB NOT NULL
);

CREATE TABLE brief_finds (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  outing_id INTEGER NOT NULL UNIQUE REFERENCES outings(id) ON DELETE CASCADE,
  method INTEGER NOT NULL,
  packed BLOB NOT NULL
);

CREATE TRIGGER brief_ways_insert AFTER INSERT ON track_points BEGIN
  DELETE FROM brief_ways WHERE outing_id = NEW.outing_id;
END;
CREATE TRIGGER brief_ways_update AFTER UPDATE ON track_points BEGIN
  DELETE FROM brief_ways WHERE outing_id IN (OLD.outing_id, NEW.outing_id);
END;
CREATE TRIGGER brief_ways_delete AFTER DELETE ON track_points BEGIN
  DELETE FROM brief_ways WHERE outing_id = OLD.outing_id;
END;

CREATE TRIGGER brief_finds_insert AFTER INSERT ON finds BEGIN
  DELETE FROM brief_finds WHERE outing_id = NEW.outing_id;
END;
CREATE TRIGGER brief_finds_update AFTER UPDATE ON finds BEGIN
  DELETE FROM brief_finds WHERE outing_id IN (OLD.outing_id, NEW.outing_id);
END;
CREATE TRIGGER brief_finds_delete AFTER DELETE ON finds BEGIN
  DELETE FROM brief_finds WHERE outing_id = OLD.outing_id;
END;

-- Sites are kept with what they were made for (derived, "sites"); not so once somebody edits them.
CREATE TRIGGER sites_edited AFTER UPDATE OF id, geom, radius95_m ON sites BEGIN
  DELETE FROM derived WHERE name = 'sites';
END;
CREATE TRIGGER sites_deleted AFTER DELETE ON sites BEGIN
  DELETE FROM derived WHERE name = 'sites';
END;
CREATE TRIGGER sites_inserted AFTER INSERT ON sites BEGIN
  DELETE FROM derived WHERE name = 'sites';
END;
CREATE TRIGGER site_finds_edited AFTER UPDATE ON site_finds BEGIN
  DELETE FROM derived WHERE name = 'sites';
END;
CREATE TRIGGER site_finds_deleted AFTER DELETE ON site_finds BEGIN
  DELETE FROM derived WHERE name = 'sites';
END;

-- Counting an outing's finds without reading them.
CREATE INDEX finds_standing ON finds(outing_id) WHERE withdrawn IS NULL;
