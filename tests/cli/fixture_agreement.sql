-- An invented site by hours, all of 2025, with figures for the head: every day 12 kWh of import, half a kWh in each hour, 6 kWh of
-- export and 12 kWh of production, both from 9 to 15 UTC. From 6 to 8 October the grid meter did not answer and was filled in, on
-- 12 and 13 December it has no rows.
INSERT INTO setting VALUES(1, 1735689600000, 'boot', 0, 'hash1', 'Mill', 'Europe/Berlin', '2025a', 3600, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(1, 1, 1, 1735689600000, 0, 0, 1000, 1735689600, 0, 1735689600, 0, '', 'first');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 0, 1, 1735689600000, 0, 0, 1000, 1735689600, 0, 1735689600, 0, '', 'first');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 1, 1, 1735689600000, 0, 0, 1000, 1735689600, 0, 1735689600, 0, '', 'first');
WITH RECURSIVE t(s) AS (SELECT 1735689600 UNION ALL SELECT s + 3600 FROM t WHERE s + 3600 < 1767225600)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, CASE WHEN s % 86400 >= 32400 AND s % 86400 < 54000 THEN 2000000 ELSE 0 END, 0, 0, 0, NULL, 23000 FROM t;
WITH RECURSIVE t(s) AS (SELECT 1735689600 UNION ALL SELECT s + 3600 FROM t WHERE s + 3600 < 1767225600)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, 500000, CASE WHEN s % 86400 >= 32400 AND s % 86400 < 54000 THEN 1000000 ELSE 0 END,
         CASE WHEN s >= 1759708800 AND s < 1759968000 THEN 500000 ELSE 0 END, CASE WHEN s >= 1759708800 AND s < 1759968000 THEN 3600 ELSE 0 END,
         CASE WHEN s >= 1759708800 AND s < 1759968000 THEN 2 ELSE 0 END, NULL, 23000
  FROM t WHERE s < 1765497600 OR s >= 1765670400;
