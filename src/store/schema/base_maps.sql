-- Version 9: what maps stand on. Elevation tiles stay where they are; the features of base maps are kept here.
CREATE TABLE map_sources (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  kind TEXT NOT NULL,
  path TEXT NOT NULL,
  reference_system TEXT,
  bytes INTEGER NOT NULL,
  hash TEXT NOT NULL,
  added DATETIME NOT NULL,
  UNIQUE (kind, path)
);

-- One row for each feature. The places are packed: 32-bit degrees, ten millionths.
CREATE TABLE base_features (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  source_id INTEGER NOT NULL REFERENCES map_sources(id) ON DELETE CASCADE,
  class TEXT NOT NULL,
  name TEXT,
  south DOUBLE NOT NULL,
  north DOUBLE NOT NULL,
  west DOUBLE NOT NULL,
  width DOUBLE NOT NULL,
  packed BLOB NOT NULL
);
CREATE INDEX base_features_by_latitude ON base_features(south, north);
CREATE INDEX base_features_by_source ON base_features(source_id);
