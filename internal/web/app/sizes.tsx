import { useSignal } from '@preact/signals'
import { call, Wrong } from './api'
import { useHead } from './card'
import { Field, go, headNav, Insist, Sheet, Tick, Trouble, useDraft } from './kit'
import type { Head } from './types'

/** What is known of a head: everything can be skipped, and put right later. */
export function Sizes({ id }: { id: string }) {
  const { data } = useHead(id)
  if (!data) return null
  return <Form key={data.head.rev} head={data.head} />
}

function Form({ head }: { head: Head }) {
  const start = {
    number: head.number, title: head.title, owner: head.owner, notes: head.notes, bore: head.engine.bore?.text ?? '', stroke: head.engine.stroke?.text ?? '', flow: head.limit.flow?.text ?? '', strict: head.limit.strict,
    heads: Object.fromEntries(head.valves.map(v => [v.id, v.head_diameter?.text ?? ''])) as Record<string, string>,
    volumes: Object.fromEntries(head.ports.map(p => [p.id, p.volume?.text ?? ''])) as Record<string, string>,
    plugs: Object.fromEntries(head.ports.map(p => [p.id, p.plugs.join(', ')])) as Record<string, string>,
  }
  const [d, change, clear] = useDraft('sizes ' + head.id + ' ' + head.rev, start)
  const wrong = useSignal<Wrong | null>(null)
  const put = (rev: number, insist = false) => call<{ head: Head }>('PUT', 'heads/' + head.id, {
    rev, insist, number: d.number, title: d.title, owner: d.owner, notes: d.notes, engine: { bore: d.bore, stroke: d.stroke }, limit: { flow: d.flow, strict: d.strict },
    valves: head.valves.map(v => ({ id: v.id, head_diameter: d.heads[v.id] })),
    ports: head.ports.map(p => ({ id: p.id, volume: d.volumes[p.id], plugs: d.plugs[p.id].split(',').map(s => s.trim()).filter(Boolean) })),
  }).then(() => (clear(), go('#/heads/' + head.id)), e => (wrong.value = e))
  const w = wrong.value
  return (
    <Sheet number={head.number} title="sizes and limit" line="sizes and limit" nav={headNav(head.id, 'sizes')}>
      <form class="narrow wide2" noValidate onSubmit={e => (e.preventDefault(), put(head.rev))}>
        <div class="pair">
          <Field label="Label" field="number" value={d.number} onValue={number => change({ number })} wrong={w} />
          <Field label="Title" value={d.title} onValue={title => change({ title })} />
          <Field label="Owner" value={d.owner} onValue={owner => change({ owner })} guess="skip" />
          <Field label="Notes" value={d.notes} onValue={notes => change({ notes })} guess="skip" />
          <Field label="Bore" unit="mm" field="engine.bore" value={d.bore} onValue={bore => change({ bore })} wrong={w} guess="guessed" />
          <Field label="Stroke" unit="mm" field="engine.stroke" value={d.stroke} onValue={stroke => change({ stroke })} wrong={w} guess="skip" />
          <Field label="Limit of one valve" unit="cm³/min" field="limit.flow" value={d.flow} onValue={flow => change({ flow })} wrong={w} guess="workmanship" hint="Left empty: a 3 µm gap all round, by the valve’s size." />
        </div>
        <Tick label="Strict: a verdict may be wrong in 2.5 % of cases, not 5 %" value={d.strict} onValue={strict => change({ strict })} />
        <h2>Valve heads</h2>
        <div class="pair">{head.valves.map(v => <Field label={v.name} unit="mm" field={`valves.${v.id}.head_diameter`} value={d.heads[v.id]} onValue={x => change({ heads: { ...d.heads, [v.id]: x } })} wrong={w} guess="guessed" />)}</div>
        <h2>Ports</h2>
        <div class="pair">{head.ports.map(p => <>
          <Field label={p.name + ': volume'} unit="cm³" field={`ports.${p.id}.volume`} value={d.volumes[p.id]} onValue={x => change({ volumes: { ...d.volumes, [p.id]: x } })} wrong={w} guess="guessed" />
          <Field label={p.name + ': openings to plug'} value={d.plugs[p.id]} onValue={x => change({ plugs: { ...d.plugs, [p.id]: x } })} guess="none: injector hole, vacuum tapping" />
        </>)}</div>
        {w?.status === 409 ? <section class="clash" role="alert"><h3>This head was changed meanwhile. What you typed is still here.</h3><div class="row"><button type="button" class="button" onClick={() => put(w.now.rev)}>Save mine over it</button><button type="button" class="button" onClick={() => (clear(), location.reload())}>Take the other</button></div></section> : <Trouble wrong={w} />}
        <Insist wrong={w} yes={() => put(head.rev, true)} />
        <div class="row"><button class="button red" data-enter>Save</button><button type="button" class="button" onClick={() => call('POST', `heads/${head.id}/bin`, { rev: head.rev }).then(() => go('#/'), e => (wrong.value = e))}>Into the bin, it can come back</button></div>
      </form>
    </Sheet>
  )
}
