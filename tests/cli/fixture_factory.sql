-- An invented workshop in March 2026: 10 kW at power factor 0.90 (4.843 kvar) from 08:00 to 16:00, 0.5 kW else, and 8 kW of sun from
-- 10:00 to 14:00 (12 kW on Sundays, when nobody works, which is exported); kVAh and kvarh are counted until the 25th, kVAh alone after
INSERT INTO setting VALUES(1, 1772303400000, 'boot', 0, 'hash1', 'Workshop', 'Asia/Kolkata', '2026a', 300, 1000, '0.1', '# invented');
INSERT INTO meter_setting(setting, meter, name, role, delivers, gross, phase_method, phases, rated_w, peak_w, accuracy_class, map)
  VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 12000, 12000, '1', 'hash'),
        (1, 2, 'Grid', 'grid', 'import', 0, 'netted', 3, 30000, 0, '1', 'hash');
WITH RECURSIVE t(s) AS (SELECT 1772303400 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1774981800),
     flow AS (SELECT s, (s + 19800) % 86400 / 3600 AS hour, ((s + 19800) / 86400) % 7 = 3 AS sunday FROM t),
     power AS (SELECT s, iif(hour BETWEEN 8 AND 15 AND NOT sunday, 10000, 500) AS used,
                      iif(hour BETWEEN 10 AND 13, iif(sunday, 12000, 8000), 0) AS made,
                      iif(hour BETWEEN 8 AND 15 AND NOT sunday, 4843, 242) AS var FROM flow)
INSERT INTO interval(id, import, export, estimated, unobserved, how)
  SELECT s * 1024 + 1, 0, made * 1000 / 12, 0, 0, 0 FROM power
  UNION ALL SELECT s * 1024 + 2, max(used - made, 0) * 1000 / 12, max(made - used, 0) * 1000 / 12, 0, 0, 0 FROM power;
WITH RECURSIVE t(s) AS (SELECT 1772303400 UNION ALL SELECT s + 300 FROM t WHERE s + 300 < 1774981800),
     flow AS (SELECT s, (s + 19800) % 86400 / 3600 AS hour, ((s + 19800) / 86400) % 7 = 3 AS sunday FROM t),
     var AS (SELECT s, iif(hour BETWEEN 8 AND 15 AND NOT sunday, 403583, 20167) AS rest FROM flow)
INSERT INTO energy(id, apparent_import, reactive_import, reactive_export, unobserved, how)
  SELECT i.id, iif(i.export > 0, 0, CAST(round(sqrt(1.0 * i.import * i.import + 1.0 * v.rest * v.rest)) AS INTEGER)),
         iif(v.s < 1774377000, v.rest, NULL), iif(v.s < 1774377000, 0, NULL), 0, 0
  FROM var AS v JOIN interval AS i ON i.id = v.s * 1024 + 2;
