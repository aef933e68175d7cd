-- An invented site: a grid meter that takes 6 kW, and ten minutes of 24 kW from 10:10 on 4 May 2026;
-- then what makes no peak: 5 May the clock stepped (10:00), filled (12:00), half observed (14:00), power failed (16:00), all
-- of much energy; 6 May a register set anew (10:00); 7 May a hole from 10:00 to 11:00; 8 May entered, 30 kW at 10:10
INSERT INTO setting VALUES(1, 1777833000000, 'boot', 0, 'hash1', 'Mango Lane', 'Asia/Kolkata', '2026a', 300, 1000, '0.1', '# invented');
INSERT INTO meter_setting(setting, meter, name, role, delivers, gross, phase_method, phases, rated_w, peak_w, accuracy_class, map)
  VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 30000, 0, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1777833000 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1778265000)
INSERT INTO interval(id, import, export, estimated, unobserved, how)
  SELECT s * 1024 + 2, 500000, 0, 0, 0, iif(s >= 1778178600, 4, 0) FROM t WHERE s NOT BETWEEN 1778128200 AND 1778131799;
UPDATE interval SET import = 2000000 WHERE ts IN (1777869600, 1777869900);
UPDATE interval SET import = 2600000, how = 16 WHERE ts = 1777955400;
UPDATE interval SET import = 2600000, how = 1, estimated = 2600000, unobserved = 300 WHERE ts = 1777962600;
UPDATE interval SET import = 2600000, unobserved = 150, estimated = 100000 WHERE ts = 1777969800;
UPDATE interval SET import = 2600000, how = 256 WHERE ts = 1777977000;
UPDATE interval SET import = 0, how = 128, unobserved = 20 WHERE ts = 1778041800;
UPDATE interval SET import = 2500000 WHERE ts = 1778215200;
-- apparent energy: 6.6 kVA, and 25 with the 24 kW; on 8 May the logbook's correction makes 30 kVA of what was 15
INSERT INTO energy(id, apparent_import, unobserved, how)
  SELECT id, CASE ts WHEN 1777869600 THEN 2083333 WHEN 1777869900 THEN 2083334 WHEN 1778215200 THEN 1250000 ELSE 550000 END, unobserved, how FROM interval;
INSERT INTO corrected(id, correction, import, estimated, unobserved, how, apparent_import)
  SELECT id, 1, import, 0, 0, how + 512, 2500000 FROM interval WHERE ts = 1778215200;
