-- Version 2: what is to be kept quiet when finds leave the desk.

CREATE TABLE quiet_places (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  subject TEXT NOT NULL,
  name TEXT NOT NULL,
  level TEXT NOT NULL,
  reason TEXT,
  since DATETIME NOT NULL,
  UNIQUE (subject, name)
);
