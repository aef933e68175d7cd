-- An invented site: the grid meter has no export counter
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash1', 'Mango Lane', 'Asia/Kolkata', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, NULL, max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, max((60000 + (s / 900 * 7919) % 90000) - max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500, 0) + 700, NULL, 0, 0, 0, NULL, NULL FROM t;
