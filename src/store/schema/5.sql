-- Version 5: the layer `stands` is called `stops`.
DROP TRIGGER IF EXISTS rtree_stands_geom_insert;
DROP TRIGGER IF EXISTS rtree_stands_geom_update1;
DROP TRIGGER IF EXISTS rtree_stands_geom_update2;
DROP TRIGGER IF EXISTS rtree_stands_geom_update3;
DROP TRIGGER IF EXISTS rtree_stands_geom_update4;
DROP TRIGGER IF EXISTS rtree_stands_geom_delete;
DROP TABLE IF EXISTS rtree_stands_geom;
DELETE FROM gpkg_extensions WHERE table_name = 'stands';
DELETE FROM gpkg_geometry_columns WHERE table_name = 'stands';
DELETE FROM gpkg_contents WHERE table_name = 'stands';
DROP INDEX IF EXISTS stands_by_outing;
ALTER TABLE stands RENAME TO stops;
CREATE INDEX stops_by_outing ON stops(outing_id);
