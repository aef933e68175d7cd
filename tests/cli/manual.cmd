# every example of the manual page answers
mkdir -p own && cp household.record copy.record && cp household.record demo.record
echo '2026-01-05T12:00 reading "utility meter" import=8000 export=250' >own/logbook.txt
cp household.record-wal copy.record-wal && cp household.record-wal demo.record-wal
cat >own/manual.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; interval = 300; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/own"; logbook = "logbook.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; } );
END
meterbook() { "$METERBOOK" -c own/manual.conf --now 2026-03-30T12:07:07Z "$@"; }
# a page a line, so that two can be added at once
for page in meterbook \
    meterbook-compare \
    meterbook-completeness \
    meterbook-extremes \
    meterbook-parts \
    meterbook-supply \
    meterbook-totals; do
    sed -n 's/^\.Dl //p' "$(dirname "$0")/../../tools/$page.1"
done | sed 's|/etc/meterbook/barn.conf|own/manual.conf|; s|\\(dq|"|g' >examples
while IFS= read -r example; do
    eval "$example" >answer 2>problems </dev/null
    echo "$? $example"
    cat problems
done <examples
