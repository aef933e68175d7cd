-- An invented site: the day of 25 hours, quarter hours
INSERT INTO setting VALUES(1, 1792792800000, 'boot', 0, 'hash1', 'Hill House', 'Europe/Berlin', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1792792800 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1793055600)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, max(0, (((s + 3600) % 86400) - 21600) * (64800 - ((s + 3600) % 86400))) / 500, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1792792800 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1793055600)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, 100000, 20000, 0, 0, 0, NULL, NULL FROM t;
-- closed days: the sums of their intervals
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20750 * 1024 + meter, 1792792800, 1792879200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 96, max(how & 1008)
  FROM interval WHERE ts >= 1792792800 AND ts < 1792879200 GROUP BY meter HAVING count(*) = 96;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20751 * 1024 + meter, 1792879200, 1792969200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 100, max(how & 1008)
  FROM interval WHERE ts >= 1792879200 AND ts < 1792969200 GROUP BY meter HAVING count(*) = 100;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20752 * 1024 + meter, 1792969200, 1793055600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 96, max(how & 1008)
  FROM interval WHERE ts >= 1792969200 AND ts < 1793055600 GROUP BY meter HAVING count(*) = 96;
