# a later setting with an earlier date replaces the one before; settings that change nothing are joined
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
cp renamed.record replaced.record && cp renamed.record-wal replaced.record-wal
sqlite3 replaced.record <<END
INSERT INTO setting SELECT 3, from_ms - 3600000, boot, boot_ms, hash, site, zone, zone_edition, interval_s, poll_ms, program, text FROM setting WHERE id = 2;
INSERT INTO meter_setting SELECT 3, meter, name, role, delivers, gross, 'apart', phases, rated_w, peak_w, azimuth, tilt, accuracy_class, map FROM meter_setting WHERE setting = 2;
INSERT INTO setting SELECT 4, from_ms + 7200000, boot, boot_ms, hash, site, zone, zone_edition, interval_s, poll_ms, program, text FROM setting WHERE id = 2;
INSERT INTO meter_setting SELECT 4, meter, name, role, delivers, gross, phase_method, phases, rated_w, peak_w, azimuth, tilt, accuracy_class, map FROM meter_setting WHERE setting = 2;
END
"$METERBOOK" --database replaced.record --format csv month 2026-05
