-- An invented workshop of which one branch alone is metered: two days of 600 W by day and 100 W by night
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash', 'Mango Lane', 'Asia/Kolkata', '2026a', 900, 1000, '0.1', 'text');
INSERT INTO meter_setting VALUES(1, 21, 'Saws', 'branch', 'import', 0, 'netted', 1, 4000, 0, NULL, NULL, '1', 'hash');
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, power_min, power_max, voltage)
  WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
  SELECT s * 1024 + 21, iif((s + 19800) % 86400 BETWEEN 28800 AND 61199, 150000, 25000), NULL, 0, 0, 0, 600, 600, 600, 23000 FROM t;
