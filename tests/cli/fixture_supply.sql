-- An invented site: three roofs of one plane lift the voltage, week 24 is cloudy, week 25 has holes; one roof lets go
INSERT INTO setting VALUES(1, 1780264800000, 'boot', 0, 'hash1', 'Long Lane', 'Europe/Berlin', '2026a', 300, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'House', 'grid', 'import', 0, 'netted', 3, 20000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'Roof A', 'part', 'export', 0, 'netted', 1, 3000, 3000, 180, 30, '', 'hash');
INSERT INTO meter_setting VALUES(1, 3, 'Roof B', 'part', 'export', 0, 'netted', 1, 3000, 3000, 180, 30, '', 'hash');
INSERT INTO meter_setting VALUES(1, 4, 'Roof C', 'part', 'export', 0, 'netted', 1, 3000, 3000, 180, 30, '', 'hash');
INSERT INTO event(at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES
  (1780264800000, 'boot', 0, 'start', NULL, NULL, 1, 'version 0.1'),
  (1780725720000, 'boot', 0, 'grid_lost', NULL, NULL, 1, 'voltage measured: 0.3 V'),
  (1780729200000, 'boot', 0, 'grid_back', NULL, NULL, 1, 'voltage measured'),
  (1780783200000, 'boot', 0, 'phase_lost', 1, NULL, 1, 'L2: 1.2 V'),
  (1780784100000, 'boot', 0, 'phase_back', 1, NULL, 1, 'L2: 238.0 V');
WITH RECURSIVE t(s) AS (SELECT 1780264800 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1782079200),
  p(s, part, export) AS (SELECT s, (max(0, (((s + 7200) % 86400) - 21600) * (75600 - ((s + 7200) % 86400))) / 243000 / (CASE WHEN s >= 1780869600 AND s < 1781474400 THEN 2 ELSE 1 END)), (3 * (max(0, (((s + 7200) % 86400) - 21600) * (75600 - ((s + 7200) % 86400))) / 243000 / (CASE WHEN s >= 1780869600 AND s < 1781474400 THEN 2 ELSE 1 END)) - CASE WHEN (s < 1780610400 AND (s + 7200) % 86400 >= 45000 AND (s + 7200) % 86400 < 46200) THEN (max(0, (((s + 7200) % 86400) - 21600) * (75600 - ((s + 7200) % 86400))) / 243000 / (CASE WHEN s >= 1780869600 AND s < 1781474400 THEN 2 ELSE 1 END)) ELSE 0 END - 1000) FROM t)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, max(0, -export) * 250 / 3, max(0, export) * 250 / 3, 0, 0, 0, -export, 24600 + export / 10 FROM p
  UNION ALL SELECT s * 1024 + 2, 0, part * 250 / 3, 0, 0, 0, -part, NULL FROM p
  UNION ALL SELECT s * 1024 + 3, 0, CASE WHEN (s < 1780610400 AND (s + 7200) % 86400 >= 45000 AND (s + 7200) % 86400 < 46200) THEN 0 ELSE part END * 250 / 3, 0, 0, 0, 0, NULL FROM p
  UNION ALL SELECT s * 1024 + 4, 0, part * 250 / 3, 0, 0, 0, -part, NULL FROM p;
INSERT INTO momentary(id, voltage_l2, voltage_l3, frequency)
  SELECT id, 238000 + (voltage - 24600) * 10, 236500 + (voltage - 24600) * 10,
         CASE WHEN ts = 1780268400 THEN 49400 ELSE 50000 + (ts / 300 * 7919 % 21 - 10) * 4 END
  FROM interval WHERE meter = 1;
-- the grid was out; the meter did not answer for a day and a half, then for two minutes
UPDATE interval SET voltage = NULL, power = NULL WHERE meter = 1 AND ts >= 1780725900 AND ts < 1780729200;
DELETE FROM momentary WHERE ts >= 1780725900 AND ts < 1780729200;
UPDATE interval SET voltage = NULL, power = NULL, unobserved = 300, how = 2, estimated = import + export
  WHERE meter = 1 AND ts >= 1781647200 AND ts < 1781776800;
DELETE FROM momentary WHERE ts >= 1781647200 AND ts < 1781776800;
UPDATE interval SET unobserved = 120 WHERE meter = 1 AND ts = 1781820000;
