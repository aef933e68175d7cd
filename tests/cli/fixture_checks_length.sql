-- after checks: from 25 March 10:07 on in intervals of 5 minutes; nobody watched before that, so the first of them is older
INSERT INTO setting SELECT 2, 1774429620000, 'boot', 0, 'hash2', site, zone, zone_edition, 300, poll_ms, program, '# damaged' FROM setting;
INSERT INTO meter_setting SELECT 2, meter, name, role, delivers, gross, phase_method, phases, rated_w, peak_w, azimuth, tilt,
  accuracy_class, map FROM meter_setting;
CREATE TEMP TABLE fine AS SELECT id, import / 3 AS import, export / 3 AS export FROM interval WHERE ts >= 1774428300;
UPDATE interval SET import = import - 2 * (import / 3), export = export - 2 * (export / 3) WHERE ts >= 1774428300;
INSERT INTO interval(id, import, export, estimated, unobserved, how) SELECT id + 300 * 1024, import, export, 0, 0, 0 FROM fine UNION ALL
  SELECT id + 600 * 1024, import, export, 0, 0, 0 FROM fine;
UPDATE day SET (rows, expected) = (SELECT count(*), count(*) FROM interval AS i
  WHERE i.meter = day.meter AND ts >= day.from_s AND ts < day.to_s) WHERE from_s >= 1772319600;
