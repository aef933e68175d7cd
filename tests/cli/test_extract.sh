#!/bin/sh
# Extracts as another program reads them. Exit 77: skipped.
#
# 1. Every resource of the XML form against the schema of NAESB REQ.21 ESPI 3.3 (usage.xsd, in
#    METERBOOK_SHARED/espi, default ../shared) with xmllint; without the schema that part is left out.
# 2. The sums of all forms against plain SQL over the record's rows, to the mWh.
# 3. The package's descriptor against what Data Package and Table Schema 1 (Frictionless open standard) ask for
#    (from memory), and each table against its own schema: types, units, key, bytes.
# 4. What a full disk and a terminal see.
name=test_extract
. "$(dirname "$0")/../wire/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"
command -v xmllint >/dev/null || skip "no xmllint here"
schema=${METERBOOK_SHARED:-$top/../shared}/espi/usage.xsd
meterbook=$BUILD/meterbook
record=$work/record.db
"$BUILD/make_record" "$record" "$top/tests/cli/fixture_household.sql" || fail make_record
# an interpolated row, a partly estimated one, a corrected one, a negative one, one whose clock stepped
sqlite3 "$record" >/dev/null "
UPDATE interval SET how = 1, estimated = abs(coalesce(import, 0)) + abs(coalesce(export, 0))
    WHERE id = (SELECT id FROM interval WHERE meter = 2 AND import > 1000 LIMIT 1);
UPDATE interval SET how = 2, estimated = 1 WHERE id = (SELECT id FROM interval WHERE meter = 2 AND import > 1000 LIMIT 1 OFFSET 9);
UPDATE interval SET export = -5 WHERE id = (SELECT id FROM interval WHERE meter = 1 LIMIT 1 OFFSET 20);
UPDATE interval SET how = how | 16 WHERE id = (SELECT id FROM interval WHERE meter = 1 LIMIT 1 OFFSET 21);" || fail sqlite3

"$meterbook" --database "$record" --now 2026-04-02T00:00:00Z extract all --as espi --output "$work/all.xml" 2>"$work/err" ||
    fail "espi: $(cat "$work/err")"
grep -q 'hold estimated energy' "$work/err" || fail "nothing is said of estimates: $(cat "$work/err")"
"$meterbook" --database "$record" extract 2026-03 --as package --output "$work/package" 2>/dev/null || fail package
"$meterbook" --database "$record" extract 2026-03 --output "$work/all.csv" 2>/dev/null || fail csv
cmp -s "$work/all.csv" "$work/package/intervals.csv" || fail "the CSV is not that of the package"
sqlite3 "$record" 'SELECT meter, sum(import), sum(export), count(import), count(export) FROM interval GROUP BY meter' >"$work/sums"

mkdir "$work/resources"
python3 - "$work" <<'END' || fail 'the XML says otherwise'
import sys, xml.etree.ElementTree as tree
work = sys.argv[1]
atom, espi = '{http://www.w3.org/2005/Atom}', '{http://naesb.org/espi}'
tree.register_namespace('', 'http://naesb.org/espi')
feed = tree.parse(work + '/all.xml').getroot()
sums, ids, links, directions = {}, set(), set(), {}
for number, entry in enumerate(feed.findall(atom + 'entry')):
    name = entry.find(atom + 'id').text
    assert name not in ids, name
    ids.add(name)
    links.add([l.get('href') for l in entry.findall(atom + 'link') if l.get('rel') == 'self'][0])
    resource = entry.find(atom + 'content')[0]
    tree.ElementTree(resource).write('%s/resources/%05d.xml' % (work, number))
    if resource.tag == espi + 'ReadingType':
        assert resource.find(espi + 'uom').text == '72' and resource.find(espi + 'powerOfTenMultiplier').text == '-3'
        directions[resource.find(espi + 'flowDirection').text] = True
    if resource.tag != espi + 'IntervalBlock':
        continue
    place = [l.get('href') for l in entry.findall(atom + 'link') if l.get('rel') == 'up'][0].split('/')
    meter, flow = int(place[1]), place[3].split('-')[0]
    block = resource.find(espi + 'interval')
    start = int(block.find(espi + 'start').text)
    end = start + int(block.find(espi + 'duration').text)
    at = start
    for reading in resource.findall(espi + 'IntervalReading'):
        period = reading.find(espi + 'timePeriod')
        begins = int(period.find(espi + 'start').text)
        assert begins >= at and begins + 300 <= end, (begins, at, end)
        at = begins + int(period.find(espi + 'duration').text)
        quality = [int(q.find(espi + 'quality').text) for q in reading.findall(espi + 'ReadingQuality')]
        total = sums.setdefault((meter, flow), [0, 0, {}])
        total[0] += int(reading.find(espi + 'value').text)
        total[1] += 1
        for q in quality:
            total[2][q] = total[2].get(q, 0) + 1
    assert at == end
assert directions == {'1': True, '19': True}
for line in open(work + '/sums'):
    meter, imported, exported, imports, exports = [int(f) if f.strip() else 0 for f in line.split('|')]
    for flow, value, count in (('1', imported, imports), ('19', exported, exports)):
        got = sums.get((meter, flow), [0, 0, {}])
        assert got[:2] == [value, count], (meter, flow, got, value, count)
assert sums[(2, '1')][2] == {9: 1, 13: 1} and sums[(1, '19')][2][10] == 1, sums
for href in ('LocalTimeParameters/1', 'UsagePoint/2', 'UsagePoint/2/MeterReading/19-300', 'ReadingType/2-19-300'):
    assert href in links, href
END

if [ -r "$schema" ]; then
    xmllint --noout --schema "$schema" "$work"/resources/*.xml >"$work/validated" 2>&1
    [ "$(grep -c ' validates$' "$work/validated")" = "$(find "$work/resources" -name '*.xml' | wc -l)" ] ||
        fail "$(grep -v ' validates$' "$work/validated" | head -n 5)"
    # and it can fail
    sed 's/<value>/<value>x/' "$(grep -l IntervalReading "$work"/resources/*.xml | head -n 1)" >"$work/broken.xml"
    xmllint --noout --schema "$schema" "$work/broken.xml" >/dev/null 2>&1 && fail 'the schema takes anything'
else
    echo "$name: no schema in '$schema': its part is left out"
fi

python3 - "$work" <<'END' || fail 'the package says otherwise'
import csv, datetime, decimal, json, os, re, sys
work = sys.argv[1]
package = json.load(open(work + '/package/datapackage.json'))
assert package['profile'] == 'tabular-data-package' and re.fullmatch(r'[-a-z0-9._]+', package['name'])
datetime.datetime.strptime(package['created'], '%Y-%m-%dT%H:%M:%S%z')
assert package['resources'] and len({r['name'] for r in package['resources']}) == len(package['resources'])
def check(field, text):
    if text == '':
        return None
    if field['type'] == 'datetime':
        return datetime.datetime.strptime(text, field['format'])
    if field['type'] == 'integer':
        return int(text)
    return decimal.Decimal(text) if field['type'] == 'number' else text
sums = {}
for resource in package['resources']:
    assert re.fullmatch(r'[-a-z0-9._]+', resource['name']) and resource['profile'] == 'tabular-data-resource'
    path = os.path.join(work, 'package', resource['path'])
    assert os.path.getsize(path) == resource['bytes'], resource['name']
    fields = resource['schema']['fields']
    assert all(set(f) >= {'name', 'type', 'description'} for f in fields)
    keys = set()
    raw = open(path, 'rb').read()
    assert raw.count(b'\n') == raw.count(b'\r\n')
    with open(path, newline='') as file:
        rows = csv.reader(file)
        assert next(rows) == [f['name'] for f in fields], resource['name']
        for row in rows:
            assert len(row) == len(fields)
            values = {f['name']: check(f, text) for f, text in zip(fields, row)}
            key = tuple(values[k] for k in resource['schema'].get('primaryKey', []))
            assert not key or (None not in key and key not in keys), (resource['name'], key)
            keys.add(key)
            if resource['name'] == 'intervals':
                total = sums.setdefault(values['meter'], [0, 0])
                total[0] += int((values['import_kwh'] or 0) * 10**6)
                total[1] += int((values['export_kwh'] or 0) * 10**6)
for line in open(work + '/sums'):
    meter, imported, exported = [int(f) if f.strip() else 0 for f in line.split('|')[:3]]
    assert sums[meter] == [imported, exported], (meter, sums[meter], line)
units = {f['name']: (f.get('unit'), f.get('obis')) for f in package['resources'][0]['schema']['fields']}
assert units['import_kwh'] == ('kWh', '1-0:1.8.0') and units['export_kwh'] == ('kWh', '1-0:2.8.0')
assert units['voltage_l1_v'] == ('V', '1-0:32.7.0') and units['time'] == (None, None)
END

# one meter, by name and by number
"$meterbook" --database "$record" extract 2026-03 --meter House >"$work/one" 2>/dev/null || fail '--meter House'
"$meterbook" --database "$record" extract 2026-03 --meter 2 >"$work/two" 2>/dev/null || fail '--meter 2'
cmp -s "$work/one" "$work/two" || fail 'the meter by name is not that by number'
[ "$(cut -d, -f3 "$work/one" | sort -u | tr '\n' ' ')" = '2 meter ' ] || fail '--meter gave other meters'
"$meterbook" --database "$record" extract 2026-03 --meter Hous >/dev/null 2>"$work/err" && fail 'a meter that is not there'
grep -q "no meter of the record has that name or number" "$work/err" || fail "$(cat "$work/err")"

# a full disk: said, and nothing that looks whole
for form in csv espi; do
    "$meterbook" --database "$record" extract all --as $form >/dev/full 2>"$work/err"
    [ $? = 4 ] || fail "$form to a full disk ended with another code"
    grep -q 'No space left on device' "$work/err" || fail "$form to a full disk: $(cat "$work/err")"
done
if [ "$(id -u)" = 0 ] && mkdir "$work/small" && mount -t tmpfs -o size=256k none "$work/small" 2>/dev/null; then
    "$meterbook" --database "$record" extract all --output "$work/small/all.csv" 2>"$work/err"
    [ $? = 4 ] && grep -q 'No space left' "$work/err" || said="$(cat "$work/err")"
    left=$(ls "$work/small")
    "$meterbook" --database "$record" extract all --as package --output "$work/small/package" 2>"$work/err"
    [ $? = 4 ] && grep -q 'No space left' "$work/err" || said="$said $(cat "$work/err")"
    [ -e "$work/small/package/datapackage.json" ] && said="$said the unfinished package has a descriptor"
    umount "$work/small"
    [ -z "$said$left" ] || fail "a full file system: $said, left: $left"
fi
"$meterbook" --database "$record" extract 2026-03 --as package --output "$work/package" 2>"$work/err" && fail 'an old package was taken'
grep -q "File exists" "$work/err" || fail "$(cat "$work/err")"

# a bar on a terminal, none in a file
python3 - "$meterbook" "$record" "$work" <<'END' || fail 'no bar on a terminal'
import os, pty, subprocess, sys
here, there = pty.openpty()
done = subprocess.run([sys.argv[1], '--database', sys.argv[2], 'extract', 'all', '--output', sys.argv[3] + '/bar.csv'],
                      stderr=there, timeout=60)
os.close(there)
seen = b''
try:
    while chunk := os.read(here, 4096):
        seen += chunk
except OSError:
    pass
assert done.returncode == 0 and b'extract' in seen and b'100 %' in seen, seen
END
echo "$name: all good"
