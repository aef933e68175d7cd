-- An invented site: production and whole consumption, the grid is not metered
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash1', 'Mango Lane', 'Asia/Kolkata', '2026a', 900, 1000, '0.1', '# invented');
INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 2, 'Whole house', 'consumption', 'import', 0, 'apart', 3, 10000, 0, NULL, NULL, '1', 'hash');
INSERT INTO meter_setting VALUES(1, 1023, 'derived grid meter', 'grid', 'import', 0, 'netted', 1, 0, 0, NULL, NULL, '', 'derived');
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1, 0, max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 2, (60000 + (s / 900 * 7919) % 90000), 0, 0, 0, 0, NULL, NULL FROM t;
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 900 FROM t WHERE s + 900 < 1778005800)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, voltage)
  SELECT s * 1024 + 1023, max((60000 + (s / 900 * 7919) % 90000) - max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500, 0), max(max(0, (((s + 19800) % 86400) - 21600) * (64800 - ((s + 19800) % 86400))) / 500 - (60000 + (s / 900 * 7919) % 90000), 0), 0, 0, 0, NULL, NULL FROM t;
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(1, 1, 1, 1777833000000, 0, 0, 10000, 1777833000, 0, 1777833000, 0, '', 'first');
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began) VALUES(2, 0, 1, 1777833000000, 0, 0, 1000, 1777833000, 0, 1777833000, 0, '', 'first');
