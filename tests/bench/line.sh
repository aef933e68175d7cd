# Sourced by run.sh: how much of a serial line's time is used.

# line_begin BAUD OPTIONS...: the paced line, at $work/tty
line_begin() {
    baud=$1
    shift
    rm -f "$work/tty" "$work/line.stats"
    begin "$work/line" "$BUILD/bench/rtu_line_sim" -b "$baud" -i "$baselines/rtu_image.txt" -l "$work/tty" \
        -S "$work/line.stats" "$@"
    line=$begun
    wait_for 10 test -e "$work/tty" || fail "the line does not come up: $(cat "$work/line.err")"
}

# line_run BAUD CYCLES FIFO_WAIT_US OPTIONS...: prints needed_over_span, violations, failures, us per request
line_run() {
    line_baud=$1 line_cycles=$2 line_fifo=$3
    shift 3
    line_begin "$line_baud" "$@"
    "$BUILD/bench_line" "$work/tty" "$line_baud" "$line_cycles" "$line_fifo" >"$work/client"
    end "$line"
    echo "$(field "$work/line.stats" needed_over_span) $(field "$work/line.stats" gap_violations) $(field "$work/client" failures)" \
        "$(field "$work/client" cpu_us_per_request)"
}

# line_library BAUD CYCLES _ OPTIONS...: the bare library, a sleep before each request; needed_over_span
line_library() {
    line_baud=$1 line_cycles=$2
    shift 3
    line_begin "$line_baud" "$@"
    "$BUILD/bench/rtu_seq_client" "$work/tty" "$line_baud" "$line_cycles" gap >"$work/client"
    end "$line"
    field "$work/line.stats" needed_over_span
}

# line_row LABEL BAR BAUD CYCLES FIFO_WAIT_US OPTIONS...
line_row() {
    line_label=$1 line_bar=$2
    shift 2
    : >"$work/runs"
    : >"$work/library"
    for _ in $(seq "$rounds"); do
        line_run "$@" >>"$work/runs"
        line_library "$@" >>"$work/library"
    done
    share=$(cut -d' ' -f1 "$work/runs" | median)
    bad=$(awk '{ n += $2 + $3 } END { print n }' "$work/runs")
    row "serial line, 4 meters x 3 blocks, $line_label" "$share of the line's time, $bad violations or losses, $(cut -d' ' -f4 "$work/runs" | median) us CPU per request" \
        "the bare library, sleeping before each request: $(median <"$work/library")" "$line_bar, none" "$(verdict "$share >= $line_bar && $share <= 1.0005 && $bad == 0")"
}

measure_line() {
    { baseline rtu_line_sim '' && baseline rtu_seq_client libmodbus; } || { left_out 'serial line' "no '$baselines/rtu_line_sim.c'" && return; }
    line_row '9600 bit/s' 0.995 9600 20 0
    line_row '19200 bit/s' 0.995 19200 40 0
    line_row '115200 bit/s' 0.99 115200 100 0
    # a UART that hands on its bytes by eights, the last ones four characters late
    line_row '9600 bit/s behind a FIFO of 8' 0.98 9600 20 4583 -c 8
    line_row '9600 bit/s, a strict line' 0.995 9600 20 0 -g
}
