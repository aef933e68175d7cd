-- An invented site: clocks go back by half an hour on 5 April 2026
INSERT INTO setting VALUES(1, 1775221200000, 'boot', 0, 'hash1', 'Hill House', 'Australia/Lord_Howe', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1775221200 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1775482200)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, 250000, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1775221200 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1775482200)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, 100000, 20000, 0, 0, 0, NULL, NULL FROM t;
-- closed days: the sums of their intervals
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20547 * 1024 + meter, 1775221200, 1775307600, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 96, max(how & 1008)
  FROM interval WHERE ts >= 1775221200 AND ts < 1775307600 GROUP BY meter HAVING count(*) = 96;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20548 * 1024 + meter, 1775307600, 1775395800, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 98, max(how & 1008)
  FROM interval WHERE ts >= 1775307600 AND ts < 1775395800 GROUP BY meter HAVING count(*) = 98;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20549 * 1024 + meter, 1775395800, 1775482200, sum(import), sum(export), sum(estimated), sum(unobserved), count(*), 96, max(how & 1008)
  FROM interval WHERE ts >= 1775395800 AND ts < 1775482200 GROUP BY meter HAVING count(*) = 96;
