# Sourced by run.sh: what goes through years of intervals at once: extracts, bills by time of use, a sweep, a page.
# On the record of answers.sh.

# of_ten TIMES COMMAND...: median seconds into $took, MiB into $resident
of_ten() {
    times=$1
    shift
    "$BUILD/often" "$times" "$BUILD/meterbook" -c "$ten/meterbook.conf" --now 2026-01-01T09:00:00Z "$@" >"$work/often" || fail "'$*'"
    took=$(calc "$(field "$work/often" median_ms) / 1000" %.4f)
    resident=$(calc "$(field "$work/often" rss_kib) / 1024" %.1f)
}

measure_extract() {
    invent_ten
    for round in $(seq "$rounds"); do
        of_ten 3 extract 2020 --meter 1 --as espi
        echo "$took" >>"$work/extract_took"
    done
    took=$(median <"$work/extract_took")
    values=$(plain "SELECT count(import) + count(export) FROM interval WHERE id >= $(midnight 2020-01-01) * 1024 AND id < $(midnight 2021-01-01) * 1024 AND id % 1024 = 1")
    plain_took=$(plain_ms "SELECT id / 1024, import, export FROM interval WHERE id >= $(midnight 2020-01-01) * 1024 AND id < $(midnight 2021-01-01) * 1024 AND id % 1024 = 1")
    row 'a year of one of eight meters as XML of NAESB REQ.21, both directions' \
        "$(calc "$values / $took" %.0f) values/s, RSS $resident MiB" \
        "the same rows as plain text by the sqlite3 shell: $(calc "$values / $plain_took * 1000" %.0f) values/s" \
        '200,000/s' "$(verdict "$values / $took >= 200000")"
}

# a contract by time of use, whose schedules reach over the whole record
contract_of_years() {
    mkdir -p "$work/years/tariffs" "$work/years/carbon"
    cp "$top"/config/tariffs/* "$work/years/tariffs" && cp "$top"/config/carbon/* "$work/years/carbon" || fail 'no tariffs'
    sed -i 's/from = "20[12][0-9]-0[14]-01"; source/from = "2014-01-01"; source/' "$work/years/tariffs/time-of-use.tariff"
    sed -i 's/{ from = "2022-05-01"; kwp/{ from = "2014-05-01"; kwp/; s/"slabs.tariff"/"time-of-use.tariff"/; s/plant_to = [0-9.]*; plant_step = [0-9.]*/plant_to = 19.8; plant_step = 0.2/
        s/consumption_from = [0-9]*; consumption_to = [0-9]*; consumption_step = [0-9]*/consumption_from = 100; consumption_to = 1050; consumption_step = 50/' \
        "$work/years/tariffs/invented.contract"
}

# hours of ten years with their sums, as whoever does it by hand would begin
measure_bills() {
    invent_ten
    contract_of_years
    of_ten 5 --contract "$work/years/tariffs/invented.contract" bill 2025-12
    by_hand=$(plain_ms "SELECT strftime('%Y-%m %w %H', id / 1024, 'unixepoch', 'localtime'), sum(import), sum(export) FROM interval WHERE id % 1024 = 1 GROUP BY 1")
    row 'bills of ten years by time of use, 120 of them' "$took s, RSS $resident MiB" \
        "sums by month, weekday and hour in plain SQL, before any tariff: $(calc "$by_hand / 1000" %.1f) s" '0.5 s' "$(verdict "$took <= 0.5")"
}

measure_sweep() {
    invent_ten
    contract_of_years
    of_ten 3 --contract "$work/years/tariffs/invented.contract" what-if 2020 --view sweep --format csv
    rows=$(plain "SELECT count(*) FROM interval WHERE id >= $(midnight 2020-01-01) * 1024 AND id < $(midnight 2021-01-01) * 1024 AND id % 1024 = 1")
    naive=$($python -c "
import time
rows = [(i % 288 * 7 % 130, 20 + i % 97) for i in range($rows)]
begin = time.perf_counter()
for case in range(3):
    bought = sold = 0
    for made, used in rows:
        net = used * 1.1 - made * (0.5 + case / 10)
        if net > 0:
            bought += net
        else:
            sold -= net
print((time.perf_counter() - begin) / 3)")
    row 'a sweep of 100 plant sizes x 20 consumptions over a year at 5 min, time of use' \
        "$took s, $(calc "2000 * $rows / $took / 1e6" %.0f) million rows/s" \
        "a plain loop in Python over the rows in memory, without blocks, demand and bills: $(calc "2000 * $naive" %.0f) s" '5 s' \
        "$(verdict "$took <= 5")"
}

measure_page() {
    invent_ten
    of_ten 3 report 2020 --output "$work/page.html"
    size=$(wc -c <"$work/page.html")
    row "a year's page" "$took s, $(calc "$size / 1000" %.0f) kB, RSS $resident MiB" '' '1 s, 400 kB' "$(verdict "$took <= 1 && $size < 400000")"
}
