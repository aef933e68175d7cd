-- An invented site: intervals of 20 s
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash1', 'Mango Lane', 'Asia/Kolkata', '2026a', 20, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1777919400 UNION ALL SELECT s + 20 FROM t WHERE s + 20 < 1777919520)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, 1000, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777919400 UNION ALL SELECT s + 20 FROM t WHERE s + 20 < 1777919520)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, 0, 1500, 0, 0, 0, NULL, NULL FROM t;
