import { useSignal } from '@preact/signals'
import { call, choose, settings, useGet, words, Wrong } from './api'
import { practise } from './check'
import { Clash, useEdit } from './edit'
import { RigFaults } from './faults'
import { Choice, Field, go, home, Say, Sheet, Show, Trouble, useDraft } from './kit'
import type { Rig } from './types'

export function Rigs() {
  const { data, wrong } = useGet<{ rigs: Rig[] }>('rigs', c => c.kind === 'rig' || c.kind === 'check')
  const rigs = data?.rigs
  const lost = useSignal<Wrong | null>(null)
  return (
    <Sheet number="Rigs" title="pump, hose, gauge" line="pump, hose, gauge" nav={home('rigs')} act={<a class="act" href="#/rigs/new" data-key="n">New rig <kbd>N</kbd></a>}>
      <Trouble wrong={wrong} />
      <p class="tryit"><span>No rig at hand? A make-believe one is checked from nothing, as a real one is.</span> <button type="button" class="button" data-key="p" onClick={() => practise(e => (lost.value = e))}>Practise a rig check <kbd>P</kbd></button></p>
      <Trouble wrong={lost.value} />
      <p class="bar"><a class="button" href="#/choose">Choose a rig from parts</a></p>
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
  const { data, wrong: gone, put, again } = useGet<{ rig: Rig }>(fresh ? null : 'rigs/' + id, c => c.kind === 'check' || c.id === id)
  const all = useGet<{ rigs: Rig[] }>('rigs', () => false)
  const rig = data?.rig
  if (!fresh && !rig) return <Sheet number="Rig" title="" nav={home('rigs')}><Trouble wrong={gone} /></Sheet>
  if (fresh && !all.data) return null
  return <RigForm key={id} rig={rig} again={again} saved={r => {
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

function RigForm({ rig, saved, again }: { rig?: Rig; saved: (r: Rig) => void; again: () => void }) {
  const shown = rig?.fields ?? plain.map(([key, name, unit, hint]) => ({ key, name, unit, hint, text: '', checked: '' }))
  const edit = useEdit('rig ' + (rig?.id ?? 'new'), rig?.rev ?? 0, {
    name: rig?.name ?? '', unit: rig?.gauge.unit ?? settings.value!.vacuum_unit, division: rig?.gauge.division ?? '', kind: rig?.gauge.kind || 'needle', file: rig?.file ?? '',
    ...Object.fromEntries(shown.map(f => ['fields.' + f.key, f.text])),
  })
  const d = edit.v
  const change = edit.set
  const wrong = useSignal<Wrong | null>(null)
  const done = (r: { rig: Rig }) => {
    edit.clear()
    wrong.value = null
    saved(r.rig)
  }
  const failed = (e: Wrong) => {
    wrong.value = e
    if (e.status === 409) again() // both are shown then
  }
  const names: Record<string, string> = { name: 'Name', unit: 'Read in', division: 'One division of its scale', kind: 'Gauge', file: 'The rig’s file', ...Object.fromEntries(shown.map(f => ['fields.' + f.key, f.name])) }
  const send = (e: Event) => {
    e.preventDefault()
    if (edit.differs.length) return
    const from = rig ? edit.typed : d
    const fields = Object.fromEntries(Object.entries(from).filter(([k]) => k.startsWith('fields.')).map(([k, t]) => [k.slice(7), t]))
    const body = { name: d.name, gauge_unit: from.unit, division: from.division, kind: from.kind, fields, rev: rig?.rev ?? 0, by: settings.value!.initials }
    ;(rig ? call<{ rig: Rig }>('PUT', 'rigs/' + rig.id, body) : call<{ rig: Rig }>('POST', 'rigs', body)).then(done, failed)
  }
  return (
    <Sheet number={rig?.name ?? 'New rig'} title="rig" line="rig: all can be skipped" nav={home('rigs')}>
      <div class="split">
        <form class="left" onSubmit={send} noValidate>
          <Field label="Name" field="name" value={d.name} onValue={name => change({ name })} wrong={wrong.value} />
          <Choice label="Gauge" words={[{ code: 'needle', word: 'needle' }, { code: 'digital', word: 'figures or a sensor' }]} value={d.kind} onValue={kind => change({ kind })} />
          <Choice label="Read in" words={words.value!.units.vacuum.map(u => ({ code: u, word: u }))} value={d.unit} onValue={unit => change({ unit })} />
          <p class="cap">All of it can be skipped. A figure may carry its own unit and its doubt: 21 inHg, 95 ± 6 cm<sup>3</sup>, 0,62 mm. ± means 95 %.</p>
          <div class="pair">
            <Field label="One division of its scale" unit={d.unit} field="division" value={d.division} onValue={division => change({ division })} wrong={wrong.value} mode="decimal" guess="skip" hint="From one line to the next." />
            {shown.map(f => <Field label={f.name} unit={f.unit || d.unit} field={'fields.' + f.key} value={d['fields.' + f.key] ?? ''} onValue={v => change({ ['fields.' + f.key]: v })} wrong={wrong.value} guess="skip" hint={f.checked ? `Its check says ${f.checked}, which goes before this.` : f.hint} />)}
          </div>
          <Clash edit={edit} label={k => names[k] ?? k} show={(k, t) => (k === 'file' ? t.split('\n').length + ' lines' : t)} />
          {!edit.differs.length && <Trouble wrong={wrong.value} />}
          <button class="button red" data-enter>{rig ? 'Save' : 'Keep this rig'}</button>
        </form>
        <div class="right">
          {!rig && <p class="cap">Once the rig is kept, its checks are logged here.</p>}
          {rig && <RigFaults id={rig.id} />}
          {rig && <Checks rig={rig} done={r => saved(r)} />}
          {rig && (
            <Show label="The rig’s file" name="rigfile">
              <form onSubmit={e => {
                e.preventDefault()
                if (!edit.differs.length) call<{ rig: Rig }>('PUT', 'rigs/' + rig.id, { rev: rig.rev, file: d.file, by: settings.value!.initials }).then(done, failed)
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

function Checks({ rig, done }: { rig: Rig; done: (r: Rig) => void }) {
  const [d, change, clear] = useDraft('check ' + rig.id, { kind: 'blanked reading', words: '' })
  const wrong = useSignal<Wrong | null>(null)
  return (
    <section class="block0"><h2>Rig checks</h2>
      <p class="cap2"><Say>{rig.check}</Say></p>
      {rig.standing.length > 0 && <table class="log standings"><tbody>{rig.standing.map(k => <tr><th scope="row">{k.name}</th><td><Say>{k.value}</Say></td><td><Say>{k.word}</Say></td><td class="cap">{k.when}, {k.until}</td></tr>)}</tbody></table>}
      <p class="row"><a class="button" href={`#/rigs/${rig.id}/check`} data-key="c">Check this rig <kbd>C</kbd></a> <a class="button" href={`#/rigs/${rig.id}/card`} data-key="w">Wall card <kbd>W</kbd></a></p>
      <Show label="Log a check in words" name="logcheck">
        <p class="cap">What no figure came of, or was checked elsewhere. It is logged; no reading leans on it.</p>
        <form onSubmit={e => {
          e.preventDefault()
          call<{ rig: Rig }>('POST', `rigs/${rig.id}/checks`, { ...d, by: settings.value!.initials }).then(r => (clear(), (wrong.value = null), done(r.rig)), e => (wrong.value = e))
        }}>
          <Choice label="Checked" words={words.value!.checks} value={d.kind} onValue={kind => change({ kind })} />
          <Field label="What was found" field="words" value={d.words} onValue={words => change({ words })} wrong={wrong.value} guess="23 inHg on the blank, lost nothing in 30 s" />
          <Trouble wrong={wrong.value} />
          <button class="button">Log the check</button>
        </form>
      </Show>
      <table class="log"><tbody>{rig.checks.map(c => <tr><td class="nw">{c.when}</td><td>{c.kind}: <Say>{c.words}</Say></td><td>{c.by}</td></tr>)}</tbody></table>
    </section>
  )
}
