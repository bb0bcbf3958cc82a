import { call, settings, words, Wrong } from './api'
import { useHead } from './card'
import { BinnedHead, Clash, Elsewhere, given, guessOf, Tabs, useEdit, useSave, type Texts } from './edit'
import { Choice, Field, go, headNav, Insist, Sheet, Tick, Trouble } from './kit'
import { useSignal } from '@preact/signals'
import type { Engine, Head } from './types'

const engineFields: [keyof Engine, string, string, string][] = [
  ['bore', 'Bore', 'mm', ''], ['stroke', 'Stroke', 'mm', ''], ['rod', 'Rod length', 'mm', 'From eye to eye.'], ['chamber', 'Chamber volume', 'cm³', 'In the head, poured full.'],
  ['compression_ratio', 'Compression ratio', ': 1', ''], ['intake_closes', 'Intake closes', '°', 'After bottom dead centre.'], ['cranking', 'Cranking speed', 'r/min', ''], ['idle', 'Idle speed', 'r/min', ''], ['top_speed', 'Top speed', 'r/min', ''],
]

function texts(h: Head): Texts {
  return {
    number: h.number, title: h.title, owner: h.owner, notes: h.notes, initials: h.initials,
    ...Object.fromEntries(engineFields.map(([k]) => ['engine.' + k, given(h.engine[k] as any)])),
    'limit.flow': given(h.limit.flow), 'limit.gap': given(h.limit.gap), 'limit.strict': h.limit.strict ? 'yes' : 'no',
    'limit.cost': given(h.limit.cost), 'limit.no_cost': h.limit.no_cost ? 'yes' : 'no', 'limit.basis': h.limit.basis, 'limit.drop': given(h.limit.drop), 'limit.good': h.limit.good,
  }
}

const names: Record<string, string> = {
  number: 'Label', title: 'Title', owner: 'Owner', notes: 'Notes', initials: 'Initials', 'limit.flow': 'Limit of one valve', 'limit.gap': 'Gap of the workmanship limit', 'limit.strict': 'Strict', 'limit.cost': 'Share of cranking pressure', 'limit.no_cost': 'Cost set aside', 'limit.basis': 'What decides', 'limit.drop': 'Drop below the blanked reading', 'limit.good': 'Port known good',
  ...Object.fromEntries(engineFields.map(([k, name]) => ['engine.' + k, name])),
}

/** What is known of a head: everything can be skipped, and put right later. */
export function Sizes({ id }: { id: string }) {
  const { data, again } = useHead(id)
  return data ? <Form head={data.head} again={again} /> : null
}

function Form({ head, again }: { head: Head; again: () => void }) {
  const edit = useEdit('sizes ' + head.id, head.rev, texts(head))
  const { wrong: w, save } = useSave(head, edit, again, () => go('#/heads/' + head.id))
  const binning = useSignal<Wrong | null>(null)
  const basis = edit.v['limit.basis']
  const figure = basis === 'own' || basis === 'maker'
  const at = (field: string) => ({ field, value: edit.v[field], onValue: (x: string) => edit.set({ [field]: x }), wrong: w })
  return (
    <Sheet number={head.number} title="head, engine and limit" line="head, engine, limit" nav={headNav(head.id, 'sizes')}>
      <BinnedHead head={head} again={again} />
      <form class="narrow wide2" noValidate onSubmit={e => {
        e.preventDefault()
        if (Object.keys(edit.typed).length) save()
        else go('#/heads/' + head.id)
      }}>
        <Tabs id={head.id} here="sizes" />
        <div class="pair">
          <Field label="Label" {...at('number')} />
          <Field label="Title" {...at('title')} />
          <Field label="Owner" {...at('owner')} guess="skip" />
          <Field label="Initials" {...at('initials')} guess="skip" />
          <Field label="Notes" {...at('notes')} guess="skip" />
        </div>
        <h2>Engine</h2>
        <p class="cap">All of it can be skipped. A figure may carry its own unit and its doubt: 81.8 mm, 38 ± 1 cm<sup>3</sup>.</p>
        <div class="pair">{engineFields.map(([k, name, unit, hint]) => <Field label={name} unit={unit} hint={hint} mode="decimal" guess={guessOf(head.engine[k] as any)} {...at('engine.' + k)} />)}</div>
        <h2>Limit of one valve</h2>
        <Choice label="Which leak is too much?" words={words.value!.limits} value={basis} onValue={v => edit.set({ 'limit.basis': v, ...(v !== 'own' && v !== 'maker' ? { 'limit.flow': '' } : {}), ...(v !== 'drop' ? { 'limit.drop': '' } : {}), ...(v !== 'good-port' ? { 'limit.good': '' } : {}) })} />
        <p class="cap">{basis === '' ? 'A valve may leak no more than a well-cut seat does, and no more than this engine can spare.' : 'Workmanship and cost are still reckoned, and shown beside.'}</p>
        <div class="pair">
          {figure && <Field label="Free air at 50 kPa vacuum, one valve" unit="cm³/min" mode="decimal" {...at('limit.flow')} guess="as a workshop manual or you yourself set it" />}
          {basis === 'drop' && <Field label="The needle may stand below the blanked reading by" unit="kPa" mode="decimal" {...at('limit.drop')} guess="2 inHg is the habit" hint="Common practice, no source. It is a leak rate on this rig’s pump alone." />}
          {basis === 'good-port' && <div class="field"><label for="limitgood">The port known good</label><select id="limitgood" value={edit.v['limit.good']} onChange={e => edit.set({ 'limit.good': (e.target as HTMLSelectElement).value })}><option value="">choose</option>{head.ports.map(p => <option value={p.id}>{p.name}</option>)}</select><p class="cap">A valve may leak twice as much, by its size: tests of one seat differ by about that.</p></div>}
          <Field label="Workmanship: gap all round the contact" unit="µm" mode="decimal" {...at('limit.gap')} guess="3 µm, the usual choice" hint="A valve’s limit follows from it by the valve’s size." />
          <Field label="Cost: share of cranking pressure" unit="%" mode="decimal" {...at('limit.cost')} guess="2 %, the usual choice" hint="All valves of a cylinder together." />
        </div>
        <Tick label="Set the cost limit aside" value={edit.v['limit.no_cost'] === 'yes'} onValue={on => edit.set({ 'limit.no_cost': on ? 'yes' : 'no' })} />
        <Tick label="Strict: a verdict may be wrong in 2.5 % of cases, not 5 %" value={edit.v['limit.strict'] === 'yes'} onValue={on => edit.set({ 'limit.strict': on ? 'yes' : 'no' })} />
        <Clash edit={edit} label={k => names[k] ?? k} />
        {!edit.differs.length && <Trouble wrong={w} />}
        <Elsewhere wrong={w} id={head.id} here={f => f in edit.v} />
        <Insist wrong={w} yes={() => save({ insist: true })} />
        <div class="row end"><button class="button red" data-enter disabled={edit.differs.length > 0}>Save</button>
          {!head.binned && <button type="button" class="button" onClick={() => call('POST', `heads/${head.id}/bin`, { rev: head.rev, by: settings.value!.initials }).then(() => (scrollTo(0, 0), again()), e => (binning.value = e))}>{head.number} to the bin</button>}</div>
        <Trouble wrong={binning.value} />
      </form>
    </Sheet>
  )
}
