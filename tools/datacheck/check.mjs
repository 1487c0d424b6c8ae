// Reads packages and Parquet files with readers that know nothing of underlamp:
// the validator "datapackage" and the reader "hyparquet".
//
//   node check.mjs FOLDER
//
// FOLDER holds NAME/ (an unpacked package), NAME.json (the same tables in one file)
// and NAME.parquet/ (one file a table).
import { readFileSync, readdirSync, existsSync } from 'node:fs'
import { createHash } from 'node:crypto'
import datapackage from 'datapackage'
import { parquetReadObjects, parquetMetadata } from 'hyparquet'
import { gunzipSync } from 'node:zlib'

const folder = process.argv[2]
let faults = 0
const fault = (...words) => { faults++; console.error('FAULT', ...words) }
const gzip = { GZIP: (input, length) => { const out = gunzipSync(input); if (out.length !== length) fault('a page has', out.length, 'bytes, not', length); return out } }

const names = readdirSync(folder).filter(n => existsSync(`${folder}/${n}/datapackage.json`))
if (names.length === 0) fault('no package in', folder)
for (const name of names) {
  const at = `${folder}/${name}`
  const raw = JSON.parse(readFileSync(`${at}/datapackage.json`, 'utf8'))
  const p = await datapackage.Package.load(`${at}/datapackage.json`, { basePath: at, strict: true })
  if (!p.valid) fault(name, p.errors.map(e => e.message))
  let rows = 0
  for (const r of p.resources) {
    const d = raw.resources.find(x => x.name === r.name)
    const bytes = readFileSync(`${at}/${d.path}`)
    if (bytes.length !== d.bytes) fault(name, r.name, 'bytes')
    if ('sha256:' + createHash('sha256').update(bytes).digest('hex') !== d.hash) fault(name, r.name, 'hash')
    if (!r.tabular) continue
    try {
      rows += (await r.read({ relations: true })).length // types, constraints, keys, references
    } catch (e) {
      fault(name, r.name, e.message, (e.errors || []).slice(0, 3).map(x => x.message))
    }
  }
  console.log(`${name}: valid, ${p.resources.length} resources, ${rows} rows (datapackage)`)

  const whole = JSON.parse(readFileSync(`${folder}/${name}.json`, 'utf8'))
  let cells = 0
  for (const t of whole.resources) {
    const file = readFileSync(`${folder}/${name}.parquet/${t.name}.parquet`)
    const buffer = file.buffer.slice(file.byteOffset, file.byteOffset + file.length)
    const pairs = Object.fromEntries(parquetMetadata(buffer).key_value_metadata.map(x => [x.key, x.value]))
    for (const f of t.schema.fields) {
      if (pairs['description.' + f.name] !== f.description || (pairs['unit.' + f.name] || '') !== (f.unit || '')) fault(name, t.name, f.name, 'metadata')
    }
    const got = await parquetReadObjects({ file: buffer, compressors: gzip })
    if (got.length !== t.data.length) fault(name, t.name, got.length, 'rows in Parquet,', t.data.length, 'in JSON')
    t.data.forEach((row, i) => {
      for (const f of t.schema.fields) {
        let v = got[i][f.name]
        if (v === undefined) v = null
        if (typeof v === 'bigint') v = Number(v)
        if (v instanceof Date) v = f.type === 'date' ? v.toISOString().slice(0, 10) : v.toISOString().replace('.000Z', 'Z').replace(/(\.\d*?)0+Z$/, '$1Z')
        cells++
        if (!Object.is(v, row[f.name])) fault(name, t.name, 'row', i + 1, f.name, v, 'in Parquet,', row[f.name], 'in JSON')
      }
    })
  }
  console.log(`${name}: ${cells} cells of Parquet are those of JSON (hyparquet)`)
}
process.exit(faults ? 1 : 0)
