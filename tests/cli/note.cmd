# an entry is right, or it is not written
mkdir -p own && rm -f own/logbook.txt
cat >own/logbook.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/own"; logbook = "logbook.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; } );
END
hide() { sed -E 's/boot=[^ ]+ boot_ms=[0-9]+/boot=ID boot_ms=N/'; }
note() { "$METERBOOK" -c own/logbook.conf --now 2026-03-30T12:07:07Z note "$@" >line; code=$?; hide <line; echo "code $code"; }
note reading "utility meter" import=8124.3 export=301.9 'read by "eye"'
note 2026-03-29T03:30 note "summer time began"
note 2026-03-28 cleaning
note repair Roof 'a screw was loose'
printf '# no line feed at the end' >>own/logbook.txt
note exchange "utility meter" old.import=8130.0 new.import=0 "serial=B 7" ""
note exchange "utility meter" old.import=8130.0 new.import=0 "serial=B 7"
note 2026-03-30T14:05 clock doubt=30
cp own/logbook.txt before
note
note readin "utility meter" import=1
note reading "utility meter" import=123456
note reading "utility metre" import=1
note 2026-03-30T14:07:07+02:00 reading "utility meter" import=1.1
note clock
note note
"$METERBOOK" -c own/logbook.conf note 2026-03-30T14:06 clock >clock; tail -n 1 own/logbook.txt | hide
sed '$d' own/logbook.txt | cmp - before
hide <before
sed 's/logbook = "logbook.txt"; //' own/logbook.conf >own/without.conf
"$METERBOOK" -c own/without.conf note note x; echo "code $?"
