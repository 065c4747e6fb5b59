-- Version 10: daily weather of stations.

CREATE TABLE weather_stations (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  geom POINT,
  code TEXT NOT NULL UNIQUE,
  name TEXT,
  elevation_m DOUBLE
);

-- One row for each day on which a station reports. An empty cell is a gap, never zero. Elements that trug
-- does not use are in other, a JSON object, in the units of the file.
CREATE TABLE weather_days (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  station_id INTEGER NOT NULL REFERENCES weather_stations(id) ON DELETE CASCADE,
  date DATE NOT NULL,
  rain_mm DOUBLE,
  maximum_c DOUBLE,
  minimum_c DOUBLE,
  mean_c DOUBLE,
  snowfall_mm DOUBLE,
  snow_depth_mm DOUBLE,
  other TEXT,
  UNIQUE (station_id, date)
);
