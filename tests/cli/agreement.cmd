# sealed meters that agree: by reading period, first to last, with a span, as data
mkdir -p own
cat >own/agreement.conf <<END
site = { name = "Mill"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/agreement.record"; runtime = "$PWD/own"; logbook = "agreement.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1; map = "sunspec";
             rated_power = 10000; phases = 3; accuracy_class = "1"; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 10000; phases = 3;
             accuracy_class = "1"; ct_class = "0.5"; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 6; decimals = 1; whole_units = true; accuracy_class = "1"; },
                  { name = "roof meter"; role = "production"; registers = "export"; digits = 6; decimals = 1; accuracy_class = "B"; } );
END
# 12, 6 and 12 kWh a day; the 100th day is 10 April; their import is 0.4 % more, from July on in two periods 1.2 %
cat >own/agreement.txt <<'END'
2025-01-01T01:00 reading "utility meter" import=5000 export=700
2025-02-01T01:00 reading "utility meter" import=5374.5 export=886.0
2025-03-03T09:00 reading "utility meter" import=5739 export=1066
2025-04-10 reading "utility meter" import=6201 export=1294 how=estimated
2025-05-05 reading "utility meter" import=6500 export=1446
2025-07-01T02:00 reading "utility meter" import=7185 export=1787
2025-09-01T02:00 reading "utility meter" import=7944 export=2159
2025-11-01T01:00 reading "utility meter" import=8681 export=2525
2025-12-01T01:00 reading "utility meter" import=9041 export=2705
2025-12-20T01:00 reading "utility meter" import=9270 export=2819
2025-01-15T01:00 reading "roof meter" export=100.0
2025-06-15T02:00 reading "roof meter" export=1930.0
2025-12-15T01:00 reading "roof meter" export=4121.0
END
agreement() { "$METERBOOK" -c own/agreement.conf --now 2026-01-02T12:00:00Z "$@"; echo "code $?"; }
agreement agreement
agreement agreement "roof meter"
agreement agreement "utility meter" 2025-03 2025-09-01
agreement agreement 2025-05 2025-09-01 --format csv
agreement agreement "roof meter" --format json
# the examples of its manual page
sed -n 's/^\.Dl meterbook //p' "$(dirname "$0")/../../tools/meterbook-agreement.1" | sed 's|\\(dq|"|g' >examples
while IFS= read -r example; do
    eval "agreement $example" >answer 2>problems </dev/null
    echo "$(tail -n 1 answer) $example"
done <examples
# mistakes
agreement agreement "utilty meter"
agreement agreement House
agreement agreement 2025-13
agreement agreement "roof meter" 2025-09 2025-03
agreement agreement "roof meter" 2025-03
agreement agreement 2025 2025 2025 2025
"$METERBOOK" --database agreement.record agreement; echo "code $?"
