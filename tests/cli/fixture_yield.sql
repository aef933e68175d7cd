-- An invented plant of hours worked out by hand: four days of March 2026, 8 kWh each, one from 08:00 on. 2 kWp for two
-- days with a sensor that lies flat, then 4 kWp with one in the plane, 500 W/m2 and 45 degC while it makes anything.
INSERT INTO setting VALUES(1, 1772323200000, 'boot', 0, 'hash1', 'Yard', 'UTC', '2026a', 3600, 1000, '0.1', '# nothing that can be read');
INSERT INTO setting VALUES(2, 1772496000000, 'boot', 0, 'hash2', 'Yard', 'UTC', '2026a', 3600, 1000, '0.1',
'site = { name = "Yard"; time_zone = "UTC"; latitude = 0.0; longitude = 0.0; interval = 3600; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = (
  { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1; map = "sunspec";
    rated_power = 5000; peak_power = 4000; ac_rating = 3000; temperature_coefficient = -0.4; azimuth = 180; tilt = 30; },
  { number = 2; name = "Sky"; role = "weather"; bus = "host"; unit_id = 2; map = "sunspec"; azimuth = 183; tilt = 28; } );
expected = { kwh = ( 0, 0, 310, 0, 0, 0, 0, 0, 0, 0, 0, 0 ); };
');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 1, 5000, 2000, 180, 30, '', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'Sky', 'weather', 'import', 0, 'netted', 1, 0, 0, 180, 0, '', 'hash');
INSERT INTO meter_setting VALUES(2, 1, 'Roof', 'production', 'export', 0, 'netted', 1, 5000, 4000, 180, 30, '', 'hash');
INSERT INTO meter_setting VALUES(2, 2, 'Sky', 'weather', 'import', 0, 'netted', 1, 0, 0, 183, 28, '', 'hash');
CREATE TEMP TABLE hour AS WITH RECURSIVE t(s) AS (SELECT 1772323200 UNION ALL SELECT s + 3600 FROM t WHERE s + 3600 < 1772668800)
  SELECT s, s % 86400 / 3600 BETWEEN 8 AND 15 AS lit FROM t;
INSERT INTO interval(id, import, export, estimated, unobserved, how, voltage) SELECT s * 1024 + 1, NULL, lit * 1000000, 0, 0, 0, 23000 FROM hour;
INSERT INTO momentary(id, irradiance, module_temperature) SELECT s * 1024 + 2, lit * 500000, 5000 + lit * 40000 FROM hour;
DROP TABLE hour;
-- 3 March: no irradiance at 10:00, an estimate at 11:00; 4 March: half as much at 12:00, at 255 V; no row at 23:00
DELETE FROM momentary WHERE id = 1772532000 * 1024 + 2;
UPDATE interval SET how = 2, estimated = export WHERE id = 1772535600 * 1024 + 1;
UPDATE interval SET export = 500000, voltage = 25500 WHERE id = 1772625600 * 1024 + 1;
DELETE FROM interval WHERE id = 1772661600 * 1024 + 1;
