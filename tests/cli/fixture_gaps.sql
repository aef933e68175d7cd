-- after outages: its outages have gaps: a meter, another that was not lost, a bus, one of a computer and then a meter
UPDATE interval SET unobserved = 900, how = 2 + 1024, estimated = import + export WHERE ts >= 1792134000 AND ts < 1792144800;
UPDATE interval SET unobserved = 900, how = 2 WHERE meter = 1 AND ts >= 1793473200 AND ts < 1793502000;
UPDATE event SET id = id + 1000 WHERE id > 9;
INSERT INTO event(id, at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES
  (10, 1792495500000, 'a', 0, 'meter_lost', 1, 'roof', 3, 'no answer'),
  (11, 1792504800000, 'a', 0, 'meter_back', 1, 'roof', 1, '');
UPDATE interval SET unobserved = 900, how = 1 WHERE meter = 1 AND ts >= 1792494000 AND ts < 1792504800;
UPDATE interval SET unobserved = 40 WHERE meter = 1 AND ts = 1792504800;
-- seconds here and there, the clock stepped and was set; the house is an interval behind the roof
UPDATE interval SET unobserved = 20 WHERE meter = 2 AND ts IN (1791900000, 1791980100);
UPDATE interval SET how = how | 16 WHERE ts = 1791990000;
UPDATE interval SET how = how | 32 WHERE meter = 1 AND ts >= 1792000800 AND ts < 1792008000;
INSERT INTO interval(id, import, export, estimated, unobserved, how) SELECT (ts + 3600) * 1024 + 2, 1000, 0, 0, 0, 0
  FROM interval WHERE meter = 2 AND ts >= 1793804400 AND ts < 1793807100;
