-- An invented site: 1 March 2026; the grid meter's ratio was wrong from 6:00 to 12:00, a swap is still to be applied
INSERT INTO setting VALUES(1, 1772319600000, 'boot', 0, 'hash1', 'Mill', 'Europe/Berlin', '2026a', 300, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 7, 'Heat pump', 'branch', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1772319600 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1772406000)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power)
  SELECT s * 1024 + m, CASE m WHEN 1 THEN 0 ELSE 40000 END, CASE m WHEN 1 THEN 20000 ELSE 10000 END, 0, 0, 0, 480 FROM t, (SELECT 1 AS m UNION SELECT 2);
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20513 * 1024 + meter, 1772319600, 1772406000, sum(import), sum(export), 0, 0, 288, 288, 0 FROM interval GROUP BY meter;
INSERT INTO correction VALUES(1, 0, 'ratio', 2, NULL, 1772341200, 1772362800, 3, 2, NULL, NULL, 1772362800, 'what=ratio', 'h1', NULL);
INSERT INTO correction VALUES(2, 1, 'swapped', 1, 2, 1772370000, 1772371000, 1, 1, NULL, NULL, 1772371000, 'what=swapped', 'h2', NULL);
INSERT INTO correction VALUES(3, 2, 'exchanged', 7, NULL, 1772370000, 1772371000, 1, 1, NULL, NULL, 1772371000, 'what=exchanged', 'h3', NULL);
INSERT INTO correction VALUES(4, 3, 'exchange', 2, NULL, 1772398800, 1772402400, 1, 1, 1234567, NULL, 1772398800, 'old.import=1', 'h4', NULL);
INSERT INTO correction_due VALUES(20513);
INSERT INTO corrected(id, correction, import, export, estimated, unobserved, how, power)
  SELECT id, 1, import * 3 / 2, export * 3 / 2, 0, 0, 512, 720 FROM interval WHERE meter = 2 AND ts >= 1772341200 AND ts < 1772362800;
INSERT INTO corrected_day(id, corrected, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT 20513 * 1024 + 2, 72, 1772319600, 1772406000, sum(import), sum(export), 0, 0, 288, 288, 512 FROM interval_as_corrected WHERE meter = 2;
