-- Version 7: the order of changes apart from the computer's clock, and edits that delete a find and insert it
-- again.

-- The time by which changes are ordered: when it was made, or just after the last change where the clock of
-- the computer stood earlier.
ALTER TABLE journal ADD COLUMN order_time DATETIME NOT NULL DEFAULT '';
UPDATE journal SET order_time = made;
-- changes without a time of their own come after what was there
UPDATE journal SET order_time = e.latest
FROM (SELECT id, max(made) OVER (ORDER BY id) AS latest FROM journal) AS e
WHERE e.id = journal.id AND journal.made < '1971';
CREATE INDEX journal_by_order ON journal(order_time);

DROP TRIGGER finds_deleted;
CREATE TRIGGER finds_deleted BEFORE DELETE ON finds WHEN NOT EXISTS (SELECT 1 FROM own_change)
BEGIN
  INSERT INTO gis_edits (find_id, property, made)
  VALUES (OLD.id, 'deleted', strftime('%Y-%m-%dT%H:%M:%fZ', 'now'));
  INSERT INTO deleted_finds SELECT * FROM finds WHERE id = OLD.id;
  INSERT INTO deleted_anchors SELECT * FROM anchors WHERE find_id = OLD.id;
  INSERT INTO deleted_find_photographs SELECT * FROM find_photographs WHERE find_id = OLD.id;
  INSERT INTO deleted_find_history SELECT * FROM find_history WHERE find_id = OLD.id;
  INSERT INTO deleted_conflict_finds SELECT * FROM conflict_finds WHERE find_id = OLD.id;
END;

-- A row that replaces a find, or is inserted or updated in one statement, runs no trigger of deletion.
CREATE TRIGGER finds_replaced BEFORE INSERT ON finds
WHEN NOT EXISTS (SELECT 1 FROM own_change)
  AND EXISTS (SELECT 1 FROM finds WHERE id = NEW.id OR uuid = NEW.uuid)
BEGIN
  INSERT INTO gis_edits (find_id, property, made)
  SELECT id, 'deleted', strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
  FROM finds WHERE id = NEW.id OR uuid = NEW.uuid;
  INSERT INTO deleted_anchors SELECT a.* FROM anchors a JOIN finds f ON f.id = a.find_id
  WHERE f.id = NEW.id OR f.uuid = NEW.uuid;
  INSERT INTO deleted_find_photographs SELECT a.* FROM find_photographs a JOIN finds f ON f.id = a.find_id
  WHERE f.id = NEW.id OR f.uuid = NEW.uuid;
  INSERT INTO deleted_find_history SELECT a.* FROM find_history a JOIN finds f ON f.id = a.find_id
  WHERE f.id = NEW.id OR f.uuid = NEW.uuid;
  INSERT INTO deleted_conflict_finds SELECT a.* FROM conflict_finds a JOIN finds f ON f.id = a.find_id
  WHERE f.id = NEW.id OR f.uuid = NEW.uuid;
  INSERT INTO deleted_finds SELECT * FROM finds WHERE id = NEW.id OR uuid = NEW.uuid;
END;
