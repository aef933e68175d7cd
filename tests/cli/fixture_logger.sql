-- An invented site, 15 minutes: the collector took over on 2026-05-04 at noon; nothing was
-- answered from 12:30 to 14:00, filled with 600 Wh, the row before is observed in part
INSERT INTO setting VALUES(1, 1777888800000, 'boot', 0, 'hash1', 'Mill', 'Europe/Berlin', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 20000, 0, NULL, NULL, '1', 'hash');
INSERT INTO run VALUES(1, 2, 0, 1, 1777889040000, 5000000000, 5000000, 1000, 1777888800, 5000000000, 1777888800, 5000000000, NULL, '', 'first reading', NULL, NULL, NULL, NULL);
INSERT INTO run VALUES(2, 2, 1, 1, 1777889040000, 7000000000, 7000000, 1000, 1777888800, 7000000000, 1777888800, 7000000000, NULL, '', 'first reading', NULL, NULL, NULL, NULL);
WITH RECURSIVE t(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM t WHERE n < 15)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power)
  SELECT (1777888800 + n * 900) * 1024 + 2, 100000, 0,
    CASE WHEN n BETWEEN 2 AND 7 THEN 100000 WHEN n = 1 THEN 10000 ELSE 0 END,
    CASE WHEN n BETWEEN 2 AND 7 THEN 900 WHEN n = 1 THEN 90 WHEN n = 0 THEN 240 ELSE 0 END,
    CASE WHEN n BETWEEN 1 AND 7 THEN 1 ELSE 0 END, 400 FROM t;
