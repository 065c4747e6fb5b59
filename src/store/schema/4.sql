-- Version 4: what sensitivity rules were meant for, and what has been published.

CREATE TABLE sensitivity_rules (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  subject TEXT NOT NULL,
  name TEXT NOT NULL,
  level TEXT NOT NULL,
  reason TEXT,
  since DATETIME NOT NULL,
  in_advance BOOLEAN NOT NULL DEFAULT 0,
  UNIQUE (subject, name)
);

INSERT INTO sensitivity_rules (id, subject, name, level, reason, since)
SELECT id, CASE subject WHEN 'kind' THEN 'taxon' ELSE subject END, name, level, reason, since
FROM quiet_places;

DELETE FROM gpkg_contents WHERE table_name = 'quiet_places';
DROP TABLE quiet_places;

-- Finds and circles that a rule was meant for. Nothing is taken away when finds or sites change: no key
-- refers to them. An empty find_uuid is the circle of a whole site, an empty place an unknown position.
CREATE TABLE sensitivity_bound (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  rule_id INTEGER NOT NULL REFERENCES sensitivity_rules(id) ON DELETE CASCADE,
  find_uuid TEXT NOT NULL,
  scientific_name TEXT NOT NULL,
  place BLOB NOT NULL,
  radius95_m DOUBLE NOT NULL,
  UNIQUE (rule_id, find_uuid, scientific_name, place, radius95_m)
);

-- What outputs for others said of each find. Sides of cells in degrees; no cell where the find was given
-- exactly or without coordinates.
CREATE TABLE published (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  find_uuid TEXT NOT NULL,
  level TEXT NOT NULL,
  latitude DOUBLE NOT NULL,
  longitude DOUBLE NOT NULL,
  latitude_step DOUBLE NOT NULL,
  longitude_step DOUBLE NOT NULL,
  rule TEXT NOT NULL,
  first_time DATETIME NOT NULL,
  UNIQUE (find_uuid, level, latitude, longitude, rule)
);
