-- Version 6: a journal of changes, amendments that apply on top of imports, and edits made by a GIS.

-- One row for each change: an amendment, edits of a GIS, an import, a removal, an undo.
CREATE TABLE journal (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  uuid TEXT NOT NULL UNIQUE,
  kind TEXT NOT NULL,
  made DATETIME NOT NULL,
  who TEXT,
  reason TEXT,
  reverses INTEGER REFERENCES journal(id),
  active BOOLEAN NOT NULL DEFAULT 1
);
CREATE INDEX journal_by_reversed ON journal(reverses);

-- What a change amends: one property of a find, or the clock of a camera on an outing. No key refers to
-- finds or outings, so that an amendment survives until they are imported again.
CREATE TABLE amendments (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  change_id INTEGER NOT NULL REFERENCES journal(id) ON DELETE CASCADE,
  find_uuid TEXT,
  outing_uuid TEXT,
  camera TEXT,
  property TEXT NOT NULL,
  before TEXT,
  after TEXT NOT NULL,
  patch TEXT NOT NULL
);
CREATE INDEX amendments_by_change ON amendments(change_id);
CREATE INDEX amendments_by_property ON amendments(property);
CREATE INDEX amendments_by_find ON amendments(find_uuid);
CREATE INDEX amendments_by_outing ON amendments(outing_uuid);

-- The amended properties of each find beside what was written: made from the amendments that are in force.
CREATE TABLE amended (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  find_id INTEGER NOT NULL REFERENCES finds(id) ON DELETE CASCADE,
  property TEXT NOT NULL,
  written TEXT,
  value TEXT,
  change_id INTEGER NOT NULL,
  UNIQUE (find_id, property)
);

-- An outing as it was before a change; without content where there was none.
CREATE TABLE archived_outings (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  change_id INTEGER NOT NULL REFERENCES journal(id) ON DELETE CASCADE,
  outing_uuid TEXT NOT NULL,
  date DATE NOT NULL,
  collector TEXT,
  find_count INTEGER NOT NULL,
  packed BLOB,
  UNIQUE (change_id, outing_uuid)
);
CREATE INDEX archived_by_outing ON archived_outings(outing_uuid);

-- Rows as imported, while amended ones stand in their place. A later version that adds a column to one of
-- these tables adds it to its base_ and deleted_ tables, too.
CREATE TABLE base_finds AS SELECT * FROM finds WHERE 0;
CREATE UNIQUE INDEX base_finds_by_id ON base_finds(id);
CREATE INDEX base_finds_by_outing ON base_finds(outing_id);
CREATE TABLE base_anchors AS SELECT * FROM anchors WHERE 0;
CREATE INDEX base_anchors_by_find ON base_anchors(find_id);
CREATE TABLE base_find_photographs AS SELECT * FROM find_photographs WHERE 0;
CREATE INDEX base_find_photographs_by_find ON base_find_photographs(find_id);
CREATE TABLE base_photographs AS SELECT * FROM photographs WHERE 0;
CREATE UNIQUE INDEX base_photographs_by_id ON base_photographs(id);
CREATE INDEX base_photographs_by_outing ON base_photographs(outing_id);
CREATE TABLE base_cameras AS SELECT * FROM cameras WHERE 0;
CREATE UNIQUE INDEX base_cameras_by_id ON base_cameras(id);
CREATE INDEX base_cameras_by_outing ON base_cameras(outing_id);

-- Edits by another program, until trug next opens the store and makes amendments of them. While trug
-- writes, own_change has a row, which no other program ever sees.
CREATE TABLE own_change (id INTEGER PRIMARY KEY NOT NULL);
CREATE TABLE gis_edits (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  find_id INTEGER NOT NULL,
  property TEXT NOT NULL,
  before,
  after,
  made DATETIME NOT NULL
);
CREATE TABLE deleted_finds AS SELECT * FROM finds WHERE 0;
CREATE TABLE deleted_anchors AS SELECT * FROM anchors WHERE 0;
CREATE TABLE deleted_find_photographs AS SELECT * FROM find_photographs WHERE 0;
CREATE TABLE deleted_find_history AS SELECT * FROM find_history WHERE 0;
CREATE TABLE deleted_conflict_finds AS SELECT * FROM conflict_finds WHERE 0;

CREATE TRIGGER finds_edited AFTER UPDATE OF geom, radius95_m, record_number, scientific_name, collector,
  found_time, place_name, substrate, host, habitat, container, notes, withdrawn ON finds
WHEN NOT EXISTS (SELECT 1 FROM own_change) AND OLD.id = NEW.id
BEGIN
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'geom', OLD.geom, NEW.geom, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.geom IS NOT NEW.geom;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'radius95_m', OLD.radius95_m, NEW.radius95_m, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.radius95_m IS NOT NEW.radius95_m;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'record_number', OLD.record_number, NEW.record_number, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.record_number IS NOT NEW.record_number;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'scientific_name', OLD.scientific_name, NEW.scientific_name, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.scientific_name IS NOT NEW.scientific_name;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'collector', OLD.collector, NEW.collector, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.collector IS NOT NEW.collector;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'found_time', OLD.found_time, NEW.found_time, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.found_time IS NOT NEW.found_time;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'place_name', OLD.place_name, NEW.place_name, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.place_name IS NOT NEW.place_name;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'substrate', OLD.substrate, NEW.substrate, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.substrate IS NOT NEW.substrate;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'host', OLD.host, NEW.host, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.host IS NOT NEW.host;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'habitat', OLD.habitat, NEW.habitat, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.habitat IS NOT NEW.habitat;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'container', OLD.container, NEW.container, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.container IS NOT NEW.container;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'notes', OLD.notes, NEW.notes, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.notes IS NOT NEW.notes;
  INSERT INTO gis_edits (find_id, property, before, after, made)
  SELECT OLD.id, 'withdrawn', OLD.withdrawn, NEW.withdrawn, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  WHERE OLD.withdrawn IS NOT NEW.withdrawn;
END;

CREATE TRIGGER finds_deleted BEFORE DELETE ON finds WHEN NOT EXISTS (SELECT 1 FROM own_change)
BEGIN
  INSERT INTO deleted_finds SELECT * FROM finds WHERE id = OLD.id;
  INSERT INTO deleted_anchors SELECT * FROM anchors WHERE find_id = OLD.id;
  INSERT INTO deleted_find_photographs SELECT * FROM find_photographs WHERE find_id = OLD.id;
  INSERT INTO deleted_find_history SELECT * FROM find_history WHERE find_id = OLD.id;
  INSERT INTO deleted_conflict_finds SELECT * FROM conflict_finds WHERE find_id = OLD.id;
END;

CREATE TRIGGER outings_deleted BEFORE DELETE ON outings WHEN NOT EXISTS (SELECT 1 FROM own_change)
BEGIN
  SELECT RAISE(ABORT, 'outings are removed with: trug remove --day DATE');
END;

-- A find by its number, however it is written: by the digits at its end.
CREATE INDEX finds_by_number ON finds(
  CAST(substr(rtrim(record_number), length(rtrim(rtrim(record_number), '0123456789')) + 1) AS INTEGER));
