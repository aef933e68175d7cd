# Sourced by run.sh: what the record costs the disk, and how well a coarse counter's energy is placed.

# disk_row LABEL BAR INTERVAL COMMIT: 7 days of 8 meters in virtual time, on the real file system and on one of its own
disk_row() {
    rm -f "$work"/day.db*
    "$BUILD/bench_day" "$work/day.db" "$3" "$4" 7 >"$work/day" || fail "bench_day: $(cat "$work/day")"
    device=
    if [ -n "$mounted" ]; then
        rm -f "$work"/mnt/day.db*
        sync -f "$work/mnt"
        before=$(awk '{ print $7 }' "$loop")
        "$BUILD/bench_day" "$work/mnt/day.db" "$3" "$4" 7 >/dev/null
        sync -f "$work/mnt"
        device=", device $(awk -v before="$before" '{ printf "%.2f", ($7 - before) * 512 / 8e6 }' "$loop") MB"
    fi
    bytes=$(field "$work/day" bytes_per_day)
    row "handed to the file system per day, 8 meters, $1" \
        "$(calc "$bytes / 1e6" %.2f) MB, $(field "$work/day" commits_per_day) commits, $(field "$work/day" syncs_per_day) syncs$device" \
        '' "$2 MB" "$(verdict "$bytes <= $2 * 1e6")"
    field "$work/day" bytes_per_row >"$work/bytes_per_row"
}

measure_disk() {
    mounted=
    if [ "$(id -u)" = 0 ] && dd if=/dev/zero of="$work/loop.img" bs=1M count=0 seek=256 2>/dev/null && mkdir "$work/mnt" &&
        mkfs.ext4 -q -F -E lazy_itable_init=0,lazy_journal_init=0 "$work/loop.img" 2>/dev/null &&
        mount -o loop,noatime "$work/loop.img" "$work/mnt" 2>/dev/null; then
        mounted=$work/mnt
        loop=/sys/block/$(basename "$(findmnt -n -o SOURCE "$work/mnt")")/stat
    else
        left_out 'bytes on the device' 'no file system of its own can be mounted here'
    fi
    disk_row 'interval 5 min' 2.8 300 300
    disk_row 'interval 1 min, five per commit' 4 60 300
    [ -z "$mounted" ] || umount "$mounted"
    row 'bytes per stored meter-interval, power and voltage included' "$(cat "$work/bytes_per_row")" '' 32 \
        "$(verdict "$(cat "$work/bytes_per_row") <= 32")"
}

measure_shape() {
    "$BUILD/test_collect" >"$work/collect" 2>&1 || fail "test_collect: $(tail -n 3 "$work/collect")"
    shape=$(sed -n 's/^0.1 kWh counter.*error \([0-9.]*\) % .* differences \([0-9]*\) %.*/\1 \2/p' "$work/collect")
    [ -n "$shape" ] || fail 'test_collect says nothing of the 0.1 kWh counter'
    row 'interval energy from a 0.1 kWh counter, 5 min, mean absolute error' "${shape% *} % of the mean" \
        "plain differences ${shape#* } %" '2 %' "$(verdict "${shape% *} <= 2")"
}

measure_enter() {
    : >"$work/enter_ratios"
    for round in $(seq "$rounds"); do
        "$BUILD/bench_enter" "$BUILD/meterbook" "$work" >"$work/enter" || [ $? = 1 ] || fail 'bench_enter'
        field "$work/enter" ratio >>"$work/enter_ratios"
        field "$work/enter" entered_s >>"$work/enter_seconds"
    done
    ratio=$(median <"$work/enter_ratios")
    took=$(median <"$work/enter_seconds")
    row 'entering 1,000,000 readings of a counter' "$took s" "plain inserts of the same rows: $ratio times as long" \
        '10 s, 3 times' "$(verdict "$took <= 10 && $ratio <= 3")"
}

# A year of an invented site of 8 meters: production, grid, consumption and branches.
make_year() {
    cat >"$work/year.sql" <<END
INSERT INTO setting VALUES(1, 1735686000000, 'boot', 0, 'hash', 'Year', 'Europe/Berlin', '', $1, 1000, '0.1',
  'site = { name = "Year"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; interval = $1; };
   buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
   meters = ( { number = 1; name = "m1"; role = "grid"; bus = "host"; unit_id = 1; map = "sunspec"; rated_power = 5000; } );');
WITH RECURSIVE m(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM m WHERE n < 8)
INSERT INTO meter_setting SELECT 1, n, 'm' || n, iif(n = 1, 'production', iif(n = 2, 'grid', iif(n = 3, 'consumption', 'branch'))),
  iif(n = 1, 'export', 'import'), 0, 'netted', 1, 5000, 5000, 180, 30, '1', 'hash' FROM m;
WITH RECURSIVE t(s) AS (SELECT 1735686000 UNION ALL SELECT s + $1 FROM t WHERE s + $1 < 1767222000), m(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM m WHERE n < 8)
INSERT INTO interval(id, import, export, estimated, unobserved, how, power, power_min, power_max, voltage)
  SELECT s * 1024 + n, 100 * $1 + (s / $1 * 7919 + n) % 5000, iif(n = 1, 60 * $1, 0), 0, 0, 0, 100, 50, 200, 23000 FROM t, m;
INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, anchor_s, anchor, serial, began)
  SELECT id % 1024, c, 1, 1735686000000, 1000, 1, 1000, 1735686000, 1000, 1767222000, 1000 + sum(iif(c, export, import)), '', 'first reading'
  FROM interval, (SELECT 0 AS c UNION SELECT 1) GROUP BY id % 1024, c;
INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags)
  SELECT d * 1024 + id % 1024, min(id / 1024), max(id / 1024) + $1, sum(import), sum(export), 0, 0, count(*), count(*), 0
  FROM (SELECT *, (id / 1024 + iif(id / 1024 >= 1743296400 AND id / 1024 < 1761440400, 7200, 3600)) / 86400 AS d FROM interval)
  GROUP BY d, id % 1024;
END
    "$BUILD/make_record" "$work/year.record" "$work/year.sql"
}

# Memory does not grow with the rows: the program may use 48 MB of addresses, libraries included.
measure_validate() {
    for length in 300 60; do
        make_year $length || fail 'make_record'
        begin=$(date +%s%N)
        (ulimit -v 49152 && exec "$BUILD/meterbook" --database "$work/year.record" validate 2025) >"$work/validated"
        code=$?
        [ $code = 0 ] || [ $code = 6 ] || fail "meterbook validate: $(head -n 3 "$work/validated")"
        took=$(calc "($(date +%s%N) - $begin) / 1e9" %.2f)
        row "checks over a year of 8 meters, intervals of $length s, in at most 48 MB" "$took s" '' '10 s' \
            "$(verdict "$took <= 10")"
        grep ^failed "$work/validated" >&2
    done
}
