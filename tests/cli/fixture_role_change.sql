-- An invented site: the house meter was set as consumption until noon of 5 May, then as grid
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash1', 'Mango Lane', 'Asia/Kolkata', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'consumption', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 1023, 'derived grid meter', 'grid', 'import', 0, 'netted', 1, 0, 0, NULL, NULL, '', 'derived');
INSERT INTO setting VALUES(2, 1777963020000, 'boot', 0, 'hash2', 'Mango Lane', 'Asia/Kolkata', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(2, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(2, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, max((60000 + (s / 900 * 7919) % 90000) - max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500, 0) + 700, max(max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500 - (60000 + (s / 900 * 7919) % 90000), 0) + 700, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1777963500)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1023, 20000, 10000, 0, 0, 0, NULL, NULL FROM t;
-- closed days: the sums of their intervals
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20577 * 1024 + meter, 1777833000, 1777919400, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 96, max(how & 1008)
  FROM interval WHERE ts >= 1777833000 AND ts < 1777919400 GROUP BY meter HAVING count(*) = 96;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20578 * 1024 + meter, 1777919400, 1778005800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 96, max(how & 1008)
  FROM interval WHERE ts >= 1777919400 AND ts < 1778005800 GROUP BY meter HAVING count(*) = 96;
