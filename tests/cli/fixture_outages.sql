-- An invented site: each kind of outage, one over the end of summer time, one over the end of a month
INSERT INTO setting VALUES(1, 1791756000000, 'a', 0, 'hash1', 'Quarry End', 'Europe/Berlin', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 1, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO event(at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES
  (1791756000000, 'a', 30000, 'start', NULL, NULL, 1, 'version 0.1'),
  (1791964800000, 'a', 0, 'grid_lost', NULL, NULL, 1, 'voltage measured: 0.3 V'),
  (1791970200000, 'a', 0, 'grid_back', NULL, NULL, 1, 'voltage measured'),
  (1792134000000, 'a', 0, 'meter_lost', 1, 'roof', 1, 'no answer'),
  (1792144800000, 'a', 0, 'meter_back', 1, 'roof', 1, ''),
  (1792303200000, 'a', 0, 'phase_lost', 2, NULL, 1, 'L2: 1.2 V'),
  (1792303830000, 'a', 0, 'phase_back', 2, NULL, 1, 'L2: 229.0 V'),
  (1792494000000, 'a', 0, 'stop', NULL, NULL, 1, 'stopped by request'),
  (1792495200000, 'a', 0, 'start', NULL, NULL, 1, 'version 0.1'),
  (1792904460000, 'b', 60000, 'start', NULL, NULL, 1, 'version 0.1'),
  (1793473200000, 'b', 0, 'bus_down', NULL, 'roof', 1, '/dev/ttyUSB0: No such device'),
  (1793473210000, 'b', 0, 'meter_lost', 1, 'roof', 1, 'its bus is gone'),
  (1793502000000, 'b', 0, 'bus_up', NULL, 'roof', 1, ''),
  (1793502020000, 'b', 0, 'meter_back', 1, 'roof', 1, ''),
  (NULL, 'c', 5000, 'start', NULL, NULL, 1, 'version 0.1'),
  (NULL, 'c', 5000, 'clock', NULL, NULL, 1, 'not believed: -86400000 ms'),
  (1793703600000, 'd', 20000, 'start', NULL, NULL, 1, 'version 0.1'),
  (1793808000000, 'd', 0, 'meter_lost', 2, 'house', 1, 'no answer');
INSERT INTO clock(boot, from_ms, offset_ms, source, doubt_ms, after_s) VALUES('d', 0, 1793703580000, 'hand', 120000, 0);
WITH RECURSIVE t(s) AS (SELECT 1791756000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1793811600)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, max(0, ((s % 86400) - 21600) * (57600 - (s % 86400))) / 400, 0, 0, 0, 100, 23000 FROM t;
WITH RECURSIVE t(s) AS (SELECT 1791756000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1793811600)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, 60000 + s / 900 * 7919 % 90000, max(0, ((s % 86400) - 21600) * (57600 - (s % 86400))) / 400, 0, 0, 0, 100, 23000 FROM t WHERE s < 1793808000;
UPDATE interval SET import = 0, export = 0, how = 0, power = 0, voltage = NULL
  WHERE ts >= 1791964800 AND ts < 1791970200 AND meter IN (1, 2);
UPDATE interval SET import = 0, export = 0, how = 0, power = 0, voltage = NULL
  WHERE ts >= 1792656000 AND ts < 1792670400 AND meter IN (1);
UPDATE interval SET import = 0, export = 0, how = 0, power = NULL, voltage = NULL
  WHERE ts >= 1792872000 AND ts < 1792904400 AND meter IN (1, 2);
UPDATE interval SET unobserved = 900, how = 1, power = NULL, voltage = NULL
  WHERE ts >= 1792494000 AND ts < 1792494900 AND meter IN (1, 2);
UPDATE interval SET unobserved = 900, how = 2, power = NULL, voltage = NULL
  WHERE ts >= 1793638800 AND ts < 1793703600 AND meter IN (1, 2);
