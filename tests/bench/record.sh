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
