-- An invented site where every check passes: a roof of two parts, a grid meter whose register is set back once, a
-- consumption meter; February and March 2026 in quarters of an hour, March 2025 as closed days
INSERT INTO setting VALUES(1, 1735686000000, 'boot', 0, 'hash1', 'Mill House', 'Europe/Berlin', '2026a', 900, 1000, '0.1',
'site = { name = "Mill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; interval = 900; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = (
  { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1; map = "sunspec";
    rated_power = 5000; peak_power = 5000; azimuth = 180; tilt = 30; serial_number = "R-1"; },
  { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 10000; },
  { number = 3; name = "East"; role = "part"; delivers = "export"; bus = "host"; unit_id = 3; map = "sunspec"; rated_power = 3000; },
  { number = 4; name = "West"; role = "part"; delivers = "export"; bus = "host"; unit_id = 4; map = "sunspec"; rated_power = 3000; },
  { number = 5; name = "Whole"; role = "consumption"; bus = "host"; unit_id = 5; map = "sunspec"; rated_power = 10000; }
);
checks = { day_low = 20; };
');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 5000, 5000, 180, 30, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 3, 'East', 'part', 'export', 0, 'netted', 1, 3000, 3000, NULL, NULL, '', 'hash');
INSERT INTO meter_setting VALUES(1, 4, 'West', 'part', 'export', 0, 'netted', 1, 3000, 2000, NULL, NULL, '', 'hash');
INSERT INTO meter_setting VALUES(1, 5, 'Whole', 'consumption', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO factor VALUES(1, 1, 1, 1, 1, 1, 1, 0), (2, 2, 1, 50, 5, 1, 1, 0), (3, 3, 1, 1, 1, 1, 1, 0), (4, 4, 1, 1, 1, 1, 1, 0), (5, 5, 1, 1, 1, 1, 1, 0);
CREATE TEMP TABLE flow AS
  WITH RECURSIVE t(s) AS (SELECT 1769900400 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1774994400)
  SELECT s, (l > 28800 AND l < 61200) * (l - 28800) * (61200 - l) / 524 AS sun, 200000 + (s / 900 * 7919) % 50000 AS load
  FROM (SELECT s, (s + iif(s >= 1774746000, 7200, 3600)) % 86400 AS l FROM t);
INSERT INTO interval(id, import, export, estimated, unobserved, how)
  SELECT s * 1024 + 1, NULL, sun, 0, 0, 0 FROM flow UNION ALL
  SELECT s * 1024 + 2, max(load - sun, 0), max(sun - load, 0), 0, 0, 0 FROM flow UNION ALL
  SELECT s * 1024 + 3, NULL, sun * 6 / 10, 0, 0, 0 FROM flow UNION ALL
  SELECT s * 1024 + 4, NULL, sun - sun * 6 / 10, 0, 0, 0 FROM flow UNION ALL
  SELECT s * 1024 + 5, load, NULL, 0, 0, 0 FROM flow;
DROP TABLE flow;
CREATE TEMP TABLE counter(meter, counter, serial);
INSERT INTO counter VALUES(1, 1, 'R-1'), (2, 0, 'H-1'), (2, 1, 'H-1'), (3, 1, ''), (4, 1, ''), (5, 0, 'W-1');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began)
  SELECT meter, counter, meter, 1769900400000, 5000000, 5000, 1000, 1769900400, 5000000, 1774994400,
    5000000 + (SELECT sum(iif(counter, export, import)) FROM interval AS i WHERE i.meter = counter.meter), serial, 'first reading'
  FROM counter;
-- the grid meter's import: set back at noon of 12 March, 40 Wh after the last reading of the old run and with the new one at 700 Wh
UPDATE run SET anchor_s = 1773270000, to_ms = 1773313230000, ended = 'reset',
  anchor = 5000000 + (SELECT sum(import) FROM interval AS i WHERE i.meter = 2 AND ts < 1773270000),
  last = 5040000 + (SELECT sum(import) FROM interval AS i WHERE i.meter = 2 AND ts < 1773313200)
  WHERE meter = 2 AND counter = 0;
UPDATE run SET last_raw = last / 1000 WHERE last IS NOT NULL;
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began)
  SELECT 2, 0, 2, 1773313231000, 700000, 700, 1000, 1773313200, 660000, 1774994400,
    660000 + (SELECT sum(import) FROM interval WHERE meter = 2 AND ts >= 1773313200), 'H-1', 'reset';
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT d * 1024 + meter, d * 86400 - iif(d > 20541, 7200, 3600), (d + 1) * 86400 - iif(d >= 20541, 7200, 3600),
    sum(import), sum(export), 0, 0, count(*), iif(d = 20541, 92, 96), 0
  FROM (SELECT *, (ts + iif(ts >= 1774746000, 7200, 3600)) / 86400 AS d FROM interval) GROUP BY d, meter;
WITH RECURSIVE t(d) AS (SELECT 20148 UNION ALL SELECT d + 1 FROM t WHERE d < 20178),
  m(meter, import, export) AS (VALUES(1, NULL, 9000000), (2, 16000000, 4000000), (3, NULL, 5400000), (4, NULL, 3600000), (5, 21000000, NULL))
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT d * 1024 + meter, d * 86400 - iif(d > 20177, 7200, 3600), (d + 1) * 86400 - iif(d >= 20177, 7200, 3600),
    import, export, 0, 0, iif(d = 20177, 92, 96), iif(d = 20177, 92, 96), 0 FROM t, m;
