import { useSignal } from '@preact/signals'
import { call, choose, settings, useGet, words, Wrong } from './api'
import { Choice, Field, go, home, Say, Sheet, Show, Trouble, useDraft } from './kit'
import type { Rig } from './types'

export function Rigs() {
  const { data, wrong } = useGet<{ rigs: Rig[] }>('rigs', c => c.kind === 'rig' || c.kind === 'check')
  const rigs = data?.rigs
  return (
    <Sheet number="Rigs" title="pump, hose, gauge" line="pump, hose, gauge" nav={home('rigs')} act={<a class="act" href="#/rigs/new" data-key="n">New rig <kbd>N</kbd></a>}>
      <Trouble wrong={wrong} />
      {rigs && !rigs.length && <section class="empty"><h2>No rig yet.</h2><p>A name will do. What is not known is guessed, wide, and marked.</p><a class="button red" href="#/rigs/new" data-enter>Describe the rig</a></section>}
      <ul class="heads">{rigs?.map(r => (
        <li><a href={'#/rigs/' + r.id}><b class="no">{r.name}</b><span class="what"><Say>{r.line}</Say></span><span class="when">{r.checks[0] ? `checked ${r.checks[0].when}` : 'not checked yet'}</span></a>
          {settings.value!.rig === r.id ? <span class="button plainly">in use</span> : <button type="button" class="button" onClick={() => choose({ rig: r.id })}>Use {r.name}</button>}</li>
      ))}</ul>
    </Sheet>
  )
}

/** A rig: everything optional, each figure with its unit. */
export function RigSheet({ id, back }: { id: string; back: string }) {
  const fresh = id === 'new'
  const { data, wrong: gone, put } = useGet<{ rig: Rig }>(fresh ? null : 'rigs/' + id, c => c.kind === 'check')
  const all = useGet<{ rigs: Rig[] }>('rigs', () => false)
  const rig = data?.rig
  if (!fresh && !rig) return <Sheet number="Rig" title="" nav={home('rigs')}><Trouble wrong={gone} /></Sheet>
  if (fresh && !all.data) return null
  return <RigForm key={rig?.rev ?? 0} rig={rig} saved={r => {
    if (!settings.value!.rig) choose({ rig: r.id })
    put({ rig: r })
    if (back) go('#/' + back)
    else if (fresh) go('#/rigs/' + r.id)
  }} />
}

const plain = [
  ['pump.blanked', 'Blanked reading', '', 'Pump on, a blank on the plate: where the needle stands.'],
  ['pump.free_flow', 'Pump, open to the room', 'L/min', 'From its label; it makes the steady reading speak.'],
  ['volume', 'Volume of the rig', 'cm³', 'Hose, fittings and plate: fill them with water and measure that.'],
  ['port.volume', 'Volume of a port', 'cm³', 'Pour one port full.'],
  ['rig_leak', 'Rig leak', 'cm³/min', 'What the rig itself leaks with a blank on it.'],
  ['air.pressure', 'Air pressure here', 'kPa', 'As it is here, not reduced to sea level.'],
  ['air.altitude', 'Altitude', 'm', 'Where no barometer is at hand.'],
  ['air.temperature', 'Air', '°C', ''],
]

function RigForm({ rig, saved }: { rig?: Rig; saved: (r: Rig) => void }) {
  const key = 'rig ' + (rig ? rig.id + ' ' + rig.rev : 'new')
  const shown = rig?.fields ?? plain.map(([key, name, unit, hint]) => ({ key, name, unit, hint, text: '' }))
  const [d, change, clear] = useDraft(key, {
    name: rig?.name ?? '', unit: rig?.gauge.unit ?? settings.value!.vacuum_unit, division: rig?.gauge.division ?? '', kind: rig?.gauge.kind || 'needle',
    fields: Object.fromEntries(shown.map(f => [f.key, f.text])) as Record<string, string>, file: rig?.file ?? '',
  })
  const wrong = useSignal<Wrong | null>(null)
  const done = (r: { rig: Rig }) => {
    clear()
    wrong.value = null
    saved(r.rig)
  }
  const send = (e: Event) => {
    e.preventDefault()
    const body = { name: d.name, gauge_unit: d.unit, division: d.division, kind: d.kind, fields: d.fields, rev: rig?.rev ?? 0 }
    ;(rig ? call<{ rig: Rig }>('PUT', 'rigs/' + rig.id, body) : call<{ rig: Rig }>('POST', 'rigs', body)).then(done, e => (wrong.value = e))
  }
  return (
    <Sheet number={rig?.name ?? 'New rig'} title="rig" line="rig: all can be skipped" nav={home('rigs')}>
      <div class="split">
        <form class="left" onSubmit={send} noValidate>
          <Field label="Name" field="name" value={d.name} onValue={name => change({ name })} wrong={wrong.value} />
          <Choice label="Gauge" words={[{ code: 'needle', word: 'needle' }, { code: 'digital', word: 'figures or a sensor' }]} value={d.kind} onValue={kind => change({ kind })} />
          <Choice label="Read in" words={words.value!.units.vacuum.map(u => ({ code: u, word: u }))} value={d.unit} onValue={unit => change({ unit })} />
          <div class="pair">
            <Field label="One division of its scale" unit={d.unit} field="division" value={d.division} onValue={division => change({ division })} wrong={wrong.value} mode="decimal" guess="skip" hint="From one line to the next." />
            {shown.map(f => <Field label={f.name} unit={f.unit || d.unit} field={'fields.' + f.key} value={d.fields[f.key] ?? ''} onValue={v => change({ fields: { ...d.fields, [f.key]: v } })} wrong={wrong.value} guess="skip" hint={f.hint} />)}
          </div>
          {wrong.value?.status === 409 && <Clash now={wrong.value.now} mine={d} take={() => (clear(), location.reload())} keep={rev => call<{ rig: Rig }>('PUT', 'rigs/' + rig!.id, { name: d.name, gauge_unit: d.unit, division: d.division, kind: d.kind, fields: d.fields, rev }).then(done, e => (wrong.value = e))} />}
          {wrong.value?.status !== 409 && <Trouble wrong={wrong.value} />}
          <button class="button red" data-enter>{rig ? 'Save' : 'Keep this rig'}</button>
        </form>
        <div class="right">
          <p class="cap">A figure may carry its own unit and its doubt: 21 inHg, 95 ± 6 cm<sup>3</sup>, 0,62 mm. ± means 95 %.</p>
          {rig && <Checks rig={rig} done={r => saved(r)} />}
          {rig && (
            <Show label="The rig’s file" name="rigfile">
              <form onSubmit={e => {
                e.preventDefault()
                call<{ rig: Rig }>('PUT', 'rigs/' + rig.id, { rev: rig.rev, file: d.file }).then(done, e => (wrong.value = e))
              }}>
                <label for="rigfile" class="vh">The rig’s file</label>
                <textarea id="rigfile" rows={16} spellcheck={false} value={d.file} onInput={e => change({ file: (e.target as HTMLTextAreaElement).value })} aria-describedby="rigfile-d" />
                <div id="rigfile-d">{wrong.value?.fields.filter(f => f.field === 'file').map(f => <p class="fault"><b>{f.what}</b></p>)}</div>
                <button class="button">Save the file</button>
              </form>
            </Show>
          )}
        </div>
      </div>
    </Sheet>
  )
}

/** Two changed the same record: both are shown, none is lost. */
function Clash({ now, mine, keep, take }: { now: Rig; mine: { name: string; fields: Record<string, string> }; keep: (rev: number) => void; take: () => void }) {
  const rows = [['Name', mine.name, now.name], ...now.fields.map(f => [f.name, mine.fields[f.key] ?? '', f.text])].filter(([, a, b]) => a !== b)
  return (
    <section class="clash" role="alert"><h3>This was changed meanwhile. Both are here.</h3>
      <table><thead><tr><th scope="col"><span class="vh">Figure</span></th><th scope="col">yours</th><th scope="col">as it is now</th></tr></thead><tbody>{rows.map(([n, a, b]) => <tr><th scope="row">{n}</th><td><Say>{a || '–'}</Say></td><td><Say>{b || '–'}</Say></td></tr>)}</tbody></table>
      <div class="row"><button type="button" class="button" onClick={() => keep(now.rev)}>Save mine over it</button><button type="button" class="button" onClick={take}>Take the other</button></div>
    </section>
  )
}

function Checks({ rig, done }: { rig: Rig; done: (r: Rig) => void }) {
  const [d, change, clear] = useDraft('check ' + rig.id, { kind: 'blanked reading', words: '' })
  const wrong = useSignal<Wrong | null>(null)
  return (
    <section class="block0"><h2>Rig checks</h2>
      <p class="cap">Put a blank on the plate, pull, shut: what falls now is the rig’s own. It must hold before a valve is blamed.</p>
      <form onSubmit={e => {
        e.preventDefault()
        call<{ rig: Rig }>('POST', `rigs/${rig.id}/checks`, { ...d, by: settings.value!.initials }).then(r => (clear(), (wrong.value = null), done(r.rig)), e => (wrong.value = e))
      }}>
        <Choice label="Checked" words={words.value!.checks} value={d.kind} onValue={kind => change({ kind })} />
        <Field label="What was found" field="words" value={d.words} onValue={words => change({ words })} wrong={wrong.value} guess="23 inHg on the blank, lost nothing in 30 s" />
        <Trouble wrong={wrong.value} />
        <button class="button">Log the check</button>
      </form>
      <table class="log"><tbody>{rig.checks.map(c => <tr><td class="nw">{c.when}</td><td>{c.kind}: {c.words}</td><td>{c.by}</td></tr>)}</tbody></table>
    </section>
  )
}
