-- An invented site: two parts and three single-phase grid meters
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash1', 'Mango Lane', 'Asia/Kolkata', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'East', 'part', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'West', 'part', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 3, 'L1', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 4, 'L2', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 5, 'L3', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500 / 2, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, NULL, max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500 - max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500 / 2, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 3, 40000, 0, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 4, 0, max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500 / 4, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 5, 10000, 1000, 0, 0, 0, NULL, NULL FROM t;
