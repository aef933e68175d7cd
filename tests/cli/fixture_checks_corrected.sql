-- after checks: 18 March the roof was read through a ratio of four times the right one, which the logbook corrects
UPDATE interval SET export = export * 4 WHERE meter = 1 AND ts >= 1773788400 AND ts < 1773874800;
UPDATE day SET export = export * 4 WHERE meter = 1 AND day = 20530;
UPDATE run SET anchor = base + (SELECT sum(export) FROM interval AS i WHERE i.meter = 1) WHERE meter = 1;
INSERT INTO correction(id, place, what, meter, other, from_s, to_s, up, down, at_s, entry, hash, taken_ms)
  VALUES(1, 1, 'ratio', 1, NULL, 1773788400, 1773874800, 1, 4, 1773914400, 'ratio', 'x', NULL);
INSERT INTO corrected(id, correction, import, export, estimated, unobserved, how)
  SELECT id, 1, import, export / 4, 0, 0, how + 512 FROM interval WHERE meter = 1 AND ts >= 1773788400 AND ts < 1773874800;
INSERT INTO corrected_day(id, corrected, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT id, rows, from_s, to_s, import, export / 4, 0, 0, rows, expected, 512 FROM day WHERE meter = 1 AND day = 20530;
DELETE FROM correction_due;
INSERT INTO correction_due VALUES(1773838800 / 86400);
