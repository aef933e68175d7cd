# before any interval exists, and without any reading
mkdir -p own
cat >own/logbook.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "absent.record"; runtime = "$PWD/own"; logbook = "logbook.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import"; digits = 5; multiplying_factor = 20; } );
END
spans() { "$METERBOOK" -c own/logbook.conf "$@"; echo "code $?"; }
rm -f own/logbook.txt
spans spans
printf '2021-06-02 reading "utility meter" import=99990\n2021-09-01 reading "utility meter" import=10\n2021-10-01 reading "utility meter" import=9\n2021-10-02 reading x import=1\n' >own/logbook.txt
spans spans 2>&1 | sed "s|$PWD/||g"
spans --database household.record spans 2>/dev/null
spans spans "utility metre"
spans --by hour spans
"$METERBOOK" --database household.record --by month day; echo "code $?"
