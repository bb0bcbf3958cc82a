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
  }
}

const names: Record<string, string> = {
  number: 'Label', title: 'Title', owner: 'Owner', notes: 'Notes', initials: 'Initials', 'limit.flow': 'Limit of one valve', 'limit.gap': 'Gap of the workmanship limit', 'limit.strict': 'Strict',
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
  const own = useSignal(edit.v['limit.flow'] !== '')
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
        <Choice label="Which leak is too much?" words={words.value!.limits} value={own.value ? 'own' : ''} onValue={v => {
          own.value = v === 'own'
          if (v !== 'own') edit.set({ 'limit.flow': '' })
        }} />
        <div class="pair">
          {own.value ? <Field label="Free air at 50 kPa vacuum" unit="cm³/min" mode="decimal" {...at('limit.flow')} guess="as a workshop manual or you yourself set it" />
            : <Field label="Gap all round the contact" unit="µm" mode="decimal" {...at('limit.gap')} guess="3 µm, the usual choice" hint="A valve’s limit follows from it by the valve’s size." />}
        </div>
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
