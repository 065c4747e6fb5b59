-- Version 1 of trug's own tables. Never edit a released version: add the next file.

CREATE TABLE settings (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  name TEXT NOT NULL UNIQUE,
  value TEXT NOT NULL
);

CREATE TABLE outings (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  geom POINT,
  uuid TEXT NOT NULL UNIQUE,
  date DATE NOT NULL,
  start_time DATETIME,
  end_time DATETIME,
  zone TEXT NOT NULL,
  zone_source TEXT NOT NULL,
  collector TEXT,
  fingerprint TEXT NOT NULL,
  imported DATETIME NOT NULL,
  changed DATETIME NOT NULL
);
CREATE INDEX outings_by_date ON outings(date);

CREATE TABLE sources (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  outing_id INTEGER NOT NULL REFERENCES outings(id) ON DELETE CASCADE,
  place INTEGER NOT NULL,
  path TEXT NOT NULL,
  kind TEXT NOT NULL,
  size_bytes INTEGER NOT NULL,
  hash TEXT NOT NULL,
  left_out DATETIME
);
CREATE INDEX sources_by_outing ON sources(outing_id, place);
CREATE INDEX sources_by_hash ON sources(hash);

CREATE TABLE fixes (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  source_id INTEGER NOT NULL UNIQUE REFERENCES sources(id) ON DELETE CASCADE,
  fix_count INTEGER NOT NULL,
  kept_count INTEGER NOT NULL,
  packed BLOB NOT NULL
);

CREATE TABLE tracks (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  geom MULTILINESTRING,
  outing_id INTEGER NOT NULL UNIQUE REFERENCES outings(id) ON DELETE CASCADE,
  date DATE NOT NULL,
  start_time DATETIME NOT NULL,
  end_time DATETIME NOT NULL,
  point_count INTEGER NOT NULL,
  length_m DOUBLE NOT NULL,
  searched_s DOUBLE NOT NULL
);

CREATE TABLE track_points (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  outing_id INTEGER NOT NULL UNIQUE REFERENCES outings(id) ON DELETE CASCADE,
  packed BLOB NOT NULL
);

CREATE TABLE stands (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  geom POINT,
  outing_id INTEGER NOT NULL REFERENCES outings(id) ON DELETE CASCADE,
  start_time DATETIME NOT NULL,
  end_time DATETIME NOT NULL,
  duration_s DOUBLE NOT NULL,
  radius95_m DOUBLE NOT NULL
);
CREATE INDEX stands_by_outing ON stands(outing_id);

CREATE TABLE cameras (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  outing_id INTEGER NOT NULL REFERENCES outings(id) ON DELETE CASCADE,
  place INTEGER NOT NULL,
  camera TEXT NOT NULL,
  method TEXT NOT NULL,
  ahead_s DOUBLE,
  low95_s DOUBLE,
  high95_s DOUBLE,
  zone_part_s DOUBLE,
  error_part_s DOUBLE,
  details TEXT NOT NULL,
  profile BLOB NOT NULL
);
CREATE INDEX cameras_by_outing ON cameras(outing_id, place);

CREATE TABLE photographs (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  geom POINT,
  outing_id INTEGER NOT NULL REFERENCES outings(id) ON DELETE CASCADE,
  place INTEGER NOT NULL,
  camera_id INTEGER REFERENCES cameras(id) ON DELETE SET NULL,
  path TEXT NOT NULL,
  name TEXT NOT NULL,
  size_bytes INTEGER NOT NULL,
  hash TEXT NOT NULL,
  camera_clock TEXT,
  taken_time DATETIME,
  radius95_m DOUBLE,
  details TEXT NOT NULL
);
CREATE INDEX photographs_by_outing ON photographs(outing_id, place);
CREATE INDEX photographs_by_camera ON photographs(camera_id);

CREATE TABLE finds (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  geom POINT,
  uuid TEXT NOT NULL UNIQUE,
  outing_id INTEGER NOT NULL REFERENCES outings(id) ON DELETE CASCADE,
  place INTEGER NOT NULL,
  date DATE NOT NULL,
  record_number TEXT,
  scientific_name TEXT,
  collector TEXT,
  found_time DATETIME,
  found_within_s DOUBLE,
  radius95_m DOUBLE,
  position_from TEXT,
  gps_height_m DOUBLE,
  combination TEXT,
  radius_parts TEXT,
  why_unlocated TEXT,
  unlocated_report TEXT,
  place_name TEXT,
  substrate TEXT,
  host TEXT,
  habitat TEXT,
  container TEXT,
  notes TEXT,
  other_fields TEXT NOT NULL,
  written_date DATE,
  written_time TEXT,
  written_time_precision TEXT,
  written_collector TEXT,
  written_elevation_m DOUBLE,
  written_photographs TEXT NOT NULL,
  written_waypoint TEXT,
  written_coordinates TEXT,
  coordinate_readings TEXT,
  source_id INTEGER REFERENCES sources(id) ON DELETE SET NULL,
  source_line INTEGER NOT NULL,
  revision INTEGER NOT NULL,
  imported DATETIME NOT NULL,
  changed DATETIME NOT NULL,
  withdrawn DATETIME
);
CREATE INDEX finds_by_outing ON finds(outing_id, place);
CREATE INDEX finds_by_date ON finds(date);
CREATE INDEX finds_by_source ON finds(source_id);

CREATE TABLE find_history (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  find_id INTEGER NOT NULL REFERENCES finds(id) ON DELETE CASCADE,
  revision INTEGER NOT NULL,
  replaced DATETIME NOT NULL,
  what_changed TEXT NOT NULL,
  record_number TEXT,
  scientific_name TEXT,
  latitude DOUBLE,
  longitude DOUBLE,
  radius95_m DOUBLE,
  source_name TEXT,
  source_hash TEXT,
  record TEXT NOT NULL
);
CREATE INDEX find_history_by_find ON find_history(find_id, revision);

CREATE TABLE anchors (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  find_id INTEGER NOT NULL REFERENCES finds(id) ON DELETE CASCADE,
  kind TEXT NOT NULL,
  latitude DOUBLE NOT NULL,
  longitude DOUBLE NOT NULL,
  radius95_m DOUBLE NOT NULL,
  anchor_time DATETIME,
  used BOOLEAN NOT NULL,
  basis TEXT NOT NULL,
  radius_parts TEXT NOT NULL
);
CREATE INDEX anchors_by_find ON anchors(find_id);

CREATE TABLE find_photographs (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  find_id INTEGER NOT NULL REFERENCES finds(id) ON DELETE CASCADE,
  photograph_id INTEGER NOT NULL REFERENCES photographs(id) ON DELETE CASCADE,
  UNIQUE (find_id, photograph_id)
);
CREATE INDEX find_photographs_by_photograph ON find_photographs(photograph_id);

CREATE TABLE conflicts (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  outing_id INTEGER NOT NULL REFERENCES outings(id) ON DELETE CASCADE,
  kind TEXT NOT NULL,
  size TEXT NOT NULL,
  chance DOUBLE,
  report TEXT NOT NULL,
  sentence TEXT NOT NULL
);
CREATE INDEX conflicts_by_outing ON conflicts(outing_id);

CREATE TABLE conflict_finds (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  conflict_id INTEGER NOT NULL REFERENCES conflicts(id) ON DELETE CASCADE,
  find_id INTEGER NOT NULL REFERENCES finds(id) ON DELETE CASCADE
);
CREATE INDEX conflict_finds_by_conflict ON conflict_finds(conflict_id);
CREATE INDEX conflict_finds_by_find ON conflict_finds(find_id);

CREATE TABLE reports (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  outing_id INTEGER NOT NULL REFERENCES outings(id) ON DELETE CASCADE,
  kind TEXT NOT NULL,
  sentence TEXT NOT NULL,
  report TEXT NOT NULL
);
CREATE INDEX reports_by_outing ON reports(outing_id);

CREATE TABLE trailheads (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  geom POINT,
  name TEXT NOT NULL UNIQUE,
  notes TEXT
);

CREATE TABLE sites (
  id INTEGER PRIMARY KEY NOT NULL,
  geom POINT,
  name TEXT UNIQUE,
  radius95_m DOUBLE NOT NULL,
  find_count INTEGER NOT NULL,
  changed DATETIME NOT NULL
);

CREATE TABLE site_finds (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  site_id INTEGER NOT NULL REFERENCES sites(id) ON DELETE CASCADE,
  find_id INTEGER NOT NULL UNIQUE REFERENCES finds(id) ON DELETE CASCADE
);
CREATE INDEX site_finds_by_site ON site_finds(site_id);

CREATE TABLE derived (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  name TEXT NOT NULL UNIQUE,
  inputs TEXT NOT NULL,
  value BLOB NOT NULL
);
