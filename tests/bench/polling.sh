# Sourced by run.sh: what polling over TCP costs, how punctual it is, how much memory it takes.

# bench_config FILE METERS_PER_HOST POLL_PERIOD INTERVAL: eight hosts; the twenty floats of bench/meters.c
bench_config() {
    awk -v per_host="$2" -v period="$3" -v interval="$4" -v work="$work" -v runtime="$runtime" -v port=$port 'BEGIN {
        print "site = { name = \"bench\"; time_zone = \"Etc/UTC\"; latitude = 0.0; longitude = 0.0; interval = " interval ";"
        print "  commit_every = 0; poll_period = " period "; clock_trust = \"battery\"; voltage_min = 0.0; };"
        print "record = { database = \"" work "/record.db\"; runtime = \"" runtime "/run\"; };"
        for (i = 0; i < 8; i++) {
            buses = buses (i ? ", " : "") "{ name = \"host" i "\"; kind = \"tcp\"; host = \"127.0.0.1\"; port = " port + i "; }"
            for (unit = 1; unit <= per_host; unit++)
                meters = meters (i + unit > 1 ? ", " : "") "{ number = " i * per_host + unit "; name = \"m" i "." unit "\"; role = \"" \
                    (i + unit > 1 ? "branch" : "grid") "\"; bus = \"host" i "\"; unit_id = " unit "; rated_power = 20000; map = \"bench.map\"; }\n"
        }
        print "buses = ( " buses " );\nmeters = ( " meters " );"
    }' >"$1"
    for quantity in power voltage_l1 frequency active_import active_export voltage_l2 voltage_l3 current_l1 current_l2 \
        current_l3 power_l1 power_l2 power_l3 reactive_power apparent_power power_factor dc_power dc_voltage temperature \
        ambient_temperature; do echo $quantity; done | awk '
        BEGIN { printf "name = \"bench\"; function = 3; points = (" }
        { printf "%s{ quantity = \"%s\"; address = %d; type = \"float32\"; }\n", (NR > 1 ? ", " : " "), $1, 2 * NR - 2 }
        END { print ");" }' >"$(dirname "$1")/bench.map"
}

# serve ARRIVALS: eight meters, on the core of the clients; $ahead is what they are run by
ahead=
serve() {
    # shellcheck disable=SC2086 # nothing, or a file
    begin "$work/meters" $ahead taskset -c 0 "$BUILD/meters" $port 8 $1
    served=$begun
    wait_for 10 grep -qs ready "$work/meters" || fail "the meters do not start: $(cat "$work/meters.err")"
}

# CPU time of all threads of a process so far, us
cpu_us() { cat /proc/"$1"/task/*/schedstat 2>/dev/null | awk '{ n += $1 } END { printf "%d\n", n / 1000 }'; }
kilobytes() { awk -v what="$2:" '$1 == what { print $2 }' /proc/"$1"/smaps_rollup; }

# cpu_of COMMAND...: us per poll over $seconds, after 5 s to settle; leaves memory in $work/memory
cpu_of() {
    begin "$work/client" taskset -c 0 "$@"
    client=$begun
    sleep 5
    before=$(cpu_us "$client")
    sleep "$seconds"
    after=$(cpu_us "$client")
    kill -0 "$client" 2>/dev/null || fail "'$1' has ended: $(cat "$work/client" "$work/client.err")"
    echo "$(kilobytes "$client" Pss) $(kilobytes "$client" Rss)" >"$work/memory"
    end "$client" >/dev/null 2>&1
    cpu=$(calc "($after - $before) / (8 * $seconds)" %.1f)
}

measure_cpu() {
    bench_config "$work/bench.conf" 1 1.0 60
    serve ''
    baseline naive_poll 'libmodbus sqlite3' || left_out 'a single loop with commits' "no '$baselines/naive_poll.c'"
    long=$((seconds + 60))
    for _ in $(seq "$rounds"); do
        rm -f "$work"/record.db* "$work"/naive*
        cpu_of "$BUILD/meterbookd" -q -c "$work/bench.conf"
        echo "$cpu" >>"$work/cpu_ours"
        cat "$work/memory" >>"$work/memory_ours"
        cpu_of "$BUILD/bare_threads" $port 8 $long
        echo "$cpu" >>"$work/cpu_bare"
        if [ -x "$BUILD/bench/naive_poll" ]; then
            cpu_of "$BUILD/bench/naive_poll" "$work/naive" $port 8 $long
            echo "$cpu" >>"$work/cpu_loop"
        fi
        if [ -r "$baselines/naive_poll.py" ] && $python -c 'import pymodbus' 2>/dev/null; then
            cpu_of $python "$baselines/naive_poll.py" "$work/naive.py" $port 8 $long
            echo "$cpu" >>"$work/cpu_script"
        fi
    done
    end "$served" >/dev/null
    ours=$(median <"$work/cpu_ours") bare=$(median <"$work/cpu_bare")
    what="8 TCP meters x 20 floats at 1 Hz, CPU per poll with a commit each minute (the default is each five)"
    row "$what" "$ours us" "one thread per host without a disk $bare us" "at most 1.3 x" \
        "$(calc "$ours / $bare" %.2f) x: $(verdict "$ours <= 1.3 * $bare")"
    for against in 'loop:a single loop in C with commits:1' 'script:the script in Python with commits:0.5'; do
        file=$work/cpu_${against%%:*} times=${against##*:} label=${against#*:}
        [ -s "$file" ] || { left_out "${label%:*}" 'not here' && continue; }
        other=$(median <"$file")
        row "$what" "$ours us" "${label%:*} $other us" "below $times x" "$(calc "$ours / $other" %.2f) x: $(verdict "$ours < $times * $other")"
    done
    pss=$(cut -d' ' -f1 "$work/memory_ours" | median) rss=$(cut -d' ' -f2 "$work/memory_ours" | median)
    row 'memory, 8 meters' "PSS $pss kB, RSS $rss kB" '' 'PSS 2560, RSS 5120' "$(verdict "$pss <= 2560 && $rss <= 5120")"
}

# phases FILE: of arrivals "port unit time": polls, share within 2 ms of the meter's own grid, 99.9th percentile and largest deviation (ms)
phases() {
    $python - "$1" <<'END'
import collections, sys
meters = collections.defaultdict(list)
for line in open(sys.argv[1]):
    port, unit, at = line.split()
    meters[port, unit].append(float("0." + at.split(".")[1]))
off = []
for fractions in meters.values():
    fractions = fractions[3:]  # the first ones find their place
    start = sorted(fractions)[len(fractions) // 2]
    turned = [(f - start + 0.5) % 1 - 0.5 for f in fractions]
    middle = sorted(turned)[len(turned) // 2]
    off += [abs(t - middle) * 1000 for t in turned]
off.sort()
print(len(off), f"{sum(o <= 2 for o in off) / len(off):.4f} {off[int(len(off) * 0.999) - 1]:.2f} {off[-1]:.2f}")
END
}

# A disk that never rests, on the record's file system.
busy_disk() { while :; do dd if=/dev/zero of="$work/busy" bs=64k count=64 oflag=sync 2>/dev/null; done; }

# phase_of BESIDE COMMAND...: prints what phases() does, of the command with that function at work beside it
phase_of() {
    beside=$1
    shift
    serve "$work/arrivals"
    $beside &
    busy=$!
    processes="$processes $busy"
    begin "$work/client" "$@"
    sleep $((seconds + 5))
    end "$begun" >/dev/null 2>&1
    kill "$busy" 2>/dev/null
    wait "$busy" 2>/dev/null
    end "$served" >/dev/null
    phases "$work/arrivals"
}

phase_text() { awk '{ printf "%.2f %%, largest %s ms", $2 * 100, $4 }'; }

measure_phase() {
    bench_config "$work/bench.conf" 1 1.0 10 # a commit every 10 s
    rm -f "$work"/record.db*
    read -r polls share late worst <<END
$(phase_of busy_disk "$BUILD/meterbookd" -q -c "$work/bench.conf")
END
    # how punctual a thread can be at all on this machine, at this load
    against="one thread per host without a disk $(phase_of busy_disk "$BUILD/bare_threads" $port 8 $((seconds + 60)) | phase_text)"
    if baseline naive_poll 'libmodbus sqlite3'; then
        rm -f "$work/naive"
        against="$against; a single loop in C $(phase_of busy_disk "$BUILD/bench/naive_poll" "$work/naive" $port 8 $((seconds + 60)) | phase_text)"
    fi
    row "polls within 2 ms of the meter's grid while the disk syncs" \
        "$(calc "$share * 100" %.2f) % of $polls, 99.9th percentile $late ms, largest $worst ms" "$against" '99.9 %' \
        "$(verdict "$share >= 0.999")"
}

measure_memory() {
    bench_config "$work/bench.conf" 8 0.2 60
    rm -f "$work"/record.db*
    serve "$work/arrivals"
    begin "$work/client" taskset -c 0 "$BUILD/meterbookd" -q -c "$work/bench.conf"
    client=$begun
    sleep 65 # past the first commit
    first="$(kilobytes "$client" Pss) $(kilobytes "$client" Rss)"
    sleep 260
    last="$(kilobytes "$client" Pss) $(kilobytes "$client" Rss)"
    end "$client" >/dev/null 2>&1
    end "$served" >/dev/null
    polls=$(field "$work/meters" requests)
    grown=$((${last#* } - ${first#* }))
    row "memory over 100,000 polls (64 meters at 5 Hz, $polls polls)" "PSS, RSS after a minute $first kB, at the end $last kB" '' \
        'flat: at most 64 kB more' "$(verdict "$polls >= 100000 && $grown <= 64")"
}
