# with a configuration what a roof made between two readings a day apart lies along the sun; each sum stays, again as well
cp logger.record e.record
cat >shaped.conf <<END
site = { name = "Mill"; time_zone = "Europe/Berlin"; interval = 900; latitude = 52.5; longitude = 13.4; };
record = { database = "$PWD/e.record"; runtime = "$PWD"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 10000; } );
END
printf 'time,Roof.export[kWh]\n2026-04-01T12:10,100\n2026-04-02T12:00,130.001\n2026-04-03T12:00,135\n2026-04-03T13:30,140\n' >e.csv
"$METERBOOK" -c shaped.conf enter e.csv
sums="SELECT sum(export), sum(estimated), count(*) FROM interval WHERE meter = 1 AND ts BETWEEN"
show() {
    sqlite3 e.record "$sums 1775038500 AND 1775123999; $sums 1775124000 AND 1775210399; $sums 1775210400 AND 1775215799" \
        "SELECT how, unobserved, count(*), min(export), max(export) FROM interval WHERE meter = 1 GROUP BY how, unobserved" \
        "SELECT sum(export) FROM interval WHERE meter = 1 AND (time(ts, 'unixepoch') >= '20:00' OR time(ts, 'unixepoch') < '03:00')" \
        "SELECT first, last, ended FROM run WHERE meter = 1"
}
show >before
cat before
"$METERBOOK" -c shaped.conf enter e.csv
show | diff before - && echo "the same"
printf 'time,Roof.export[kWh]\n2026-04-01T12:10,100\n2026-04-02T12:00,131\n2026-04-03T12:00,135\n2026-04-03T13:30,140\n' >e.csv
"$METERBOOK" -c shaped.conf enter e.csv
