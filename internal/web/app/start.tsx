// The sheet a session begins on: what the vacuum comes from, how the valves are
// held, and a make-believe rig for who has none at hand.
import { useSignal } from '@preact/signals'
import { format, parse } from './address'
import { call, choose, settings, useGet, words, Wrong } from './api'
import { useHead } from './card'
import { useRig } from './count'
import { Held } from './held'
import { Choice, Drawing, faultAt, Field, headNav, Say, Sheet, Show, Tick, Trouble, useDraft, usual } from './kit'
import { run } from './live'
import type { Conditions, Kind, Live, Run } from './types'
import { aloud, wake } from './voice'

export const useLiveRun = () => useGet<Live>('live', c => c.kind === 'live' || c.kind === 'test')

const few = 4 // kinds shown before the rest is asked for

export function Start({ id, live }: { id: string; live: Live | null }) {
  const { data, wrong: gone } = useHead(id)
  const { rig } = useRig(data?.head.rig)
  const [d, change] = useDraft('session', { address: '', second: '', two: false, known: '', relay: '', speed: '1', faults: [] as string[] })
  const how = useSignal<Conditions>(usual())
  const wrong = useSignal<Wrong | null>(null)
  const make = useSignal(false) // the make-believe rig's choices are asked for
  if (!data) return <Sheet number="Session" title="" nav={headNav(id, 'session')}><Trouble wrong={gone} /></Sheet>
  const { head } = data
  const elsewhere = live?.run && live.run.job !== id && live.run.view.stage !== 'over' ? live.run : null
  const begin = (practise: boolean) => {
    wake()
    const sources = practise ? [] : [d.address, ...(d.two ? [d.second] : [])]
    call<{ run: Run }>('POST', 'live', {
      job: id, rig: rig?.id ?? '', sources, practise: practise ? { speed: +d.speed, faults: d.faults } : null, known: d.known, relay: practise ? '' : d.relay, conditions: how.value, order: [], by: settings.value!.initials,
    }).then(r => {
      choose({ conditions: { ...how.value, turned: false, placed: false, masked: [] } })
      run.value = r.run
    }, e => (wrong.value = e))
  }
  return (
    <Sheet number="Session" title={head.number + ', ' + head.title} line={head.number} nav={headNav(id, 'session')}>
      {elsewhere && <UnderWay run={elsewhere} />}
      <div class={'split start' + (head.invented ? ' invented' : '')}>
        <form class="left" noValidate onSubmit={e => (e.preventDefault(), begin(false))}>
          <h2>What the vacuum comes from</h2>
          <Source label="Gauge" field="sources.0" kinds={live?.kinds ?? []} value={d.address} onValue={address => (change({ address }), (wrong.value = null))} wrong={wrong.value} />
          {d.two ? <>
            <h2>A second gauge, recorded beside it</h2>
            <Source label="Second gauge" field="sources.1" kinds={live?.kinds ?? []} value={d.second} onValue={second => change({ second })} wrong={wrong.value} />
            <button type="button" class="quiet" onClick={() => change({ two: false })}>no second gauge</button>
          </> : <button type="button" class="quiet" onClick={() => change({ two: true })}>a second gauge beside it</button>}
          <Show label="A relay runs the pump" name="relay" open={!!faultAt(wrong.value, 'relay')}>
            <Field label="Its address" field="relay" value={d.relay} onValue={relay => (change({ relay }), (wrong.value = null))} wrong={wrong.value} guess="skip: you switch the pump yourself" hint="As docs/sources/relay.md says, with its cautions: it switches off by itself when the gauge falls silent or nobody watches this sheet, and is no safety device." />
          </Show>
          <Held value={how.value} onValue={c => (how.value = c)} />
          <Field label="Known leak, if there is one at hand" unit="cm³/min" field="known" value={d.known} onValue={known => (change({ known }), (wrong.value = null))} wrong={wrong.value} guess="skip" hint="A jet or a needle of known flow: it must be called leaking before a valve is." />
          {settings.value!.sound ? <p class="cap calls"><span>Said {settings.value!.sound === 'voice' ? { voice: 'aloud', clips: 'aloud, by recorded words', beeps: 'by beeps' }[aloud()] : settings.value!.sound === 'beeps' ? 'by beeps' : 'on the screen only'}</span> <button type="button" class="quiet" onClick={() => choose({ sound: '' })}>change</button></p>
            : <Choice label="How should it be said?" words={[{ code: 'voice', word: { voice: 'aloud', clips: 'aloud, by recorded words', beeps: 'aloud where there is a voice; here by beeps' }[aloud()] }, { code: 'beeps', word: 'by beeps' }, { code: 'none', word: 'on the screen only' }]} value="" onValue={sound => choose({ sound })} />}
          {!isSecureContext && <p class="cap"><Say>{words.value!.plain.screen}</Say></p>}
          <Trouble wrong={wrong.value} />
          <button class="button red tall wide" data-enter disabled={!d.address || !!elsewhere}>Begin with the blank <kbd>Enter</kbd></button>
          <p class="cap">{rig ? <>Rig: {rig.name}. </> : <>No rig is described; <a href="#/rigs/new">describe it</a> for figures that are surer. </>}The run begins with a blank under the plate: it must hold.</p>
        </form>
        <div class="right">
          <section class="block0 makebelieve">
            <h2>No sensor at hand?</h2>
            <p>A make-believe rig and head show the whole session as it goes, with the same words and judged by the same rules. What it files is marked as practice.</p>
            <button type="button" class="button tall wide" data-key="p" disabled={!!elsewhere} onClick={() => begin(true)}>Practise without a rig <kbd>P</kbd></button>
            <button type="button" class="quiet" aria-expanded={make.value} onClick={() => (make.value = !make.value)}>{make.value ? 'as it comes' : 'how fast, and what goes wrong'}</button>
            {make.value && <>
              <Choice label="How fast" words={[{ code: '1', word: 'as at the bench' }, { code: '4', word: '4 times' }, { code: '10', word: '10 times' }]} value={d.speed} onValue={speed => change({ speed })} />
              {live?.faults && <fieldset class="choice"><legend>What goes wrong</legend><div class="ticks2">{live.faults.map(f => <Tick label={f.word} value={d.faults.includes(f.code)} onValue={on => change({ faults: on ? [...d.faults, f.code] : d.faults.filter(x => x !== f.code) })} />)}</div></fieldset>}
            </>}
          </section>
          <Drawing cls="mini" way={w => `/api/heads/${id}/plan?width=${Math.min(w, 460)}&words=short&here=none`} />
          <p class="row"><a class="quiet" href={`#/phone?to=heads/${id}/session`}>Show on a phone</a><a class="quiet" href={`#/heads/${id}/count/${head.ports[0]?.id}`}>Count with a needle instead</a></p>
        </div>
      </div>
    </Sheet>
  )
}

/** Says that a session is under way, with the way to it. */
export function UnderWay({ run }: { run: Run }) {
  const v = run.view
  if (v.stage === 'over') return null
  return <p class="underway" role="status"><span><b>{run.job ? 'Session' : 'Rig check'} under way:</b> {run.head}, {v.target_name}{run.practise && ', practice'}</span> <a class="button" href={run.job ? `#/heads/${run.job}/session` : `#/rigs/${run.rig}/check`}>Open {run.job ? 'the session' : 'the check'}</a></p>
}

/** A source by its kind, its place and its options; one line of text is all that is kept. */
export function Source(p: { label: string; field: string; kinds: Kind[]; value: string; onValue: (v: string) => void; wrong: Wrong | null }) {
  const parts = parse(p.value)
  const at = p.kinds.findIndex(k => k.name === parts.kind)
  const all = useSignal(false)
  const kind = p.kinds[at]
  const shown = all.value || at >= few ? p.kinds : p.kinds.slice(0, few)
  const fault = faultAt(p.wrong, p.field)
  return (
    <div class="source-of">
      <fieldset class="choice">
        <legend>{p.label}</legend>
        <div class="stack">{shown.map(k => (
          <label class={k === kind ? 'on' : ''}>
            <input type="radio" name={p.field} checked={k === kind} onChange={() => p.onValue(k.name + ':')} />
            <span><Say>{k.words[0].toUpperCase() + k.words.slice(1)}</Say></span>
          </label>
        ))}</div>
      </fieldset>
      {shown.length < p.kinds.length && <button type="button" class="quiet" onClick={() => (all.value = true)}>other ways</button>}
      {(kind || p.value) && <Field label={p.label + '’s address'} field={p.field} value={p.value} onValue={p.onValue} wrong={p.wrong} guess={kind?.example} hint={kind ? 'as in ' + kind.example : ''} />}
      {!kind && !p.value && fault && <p class="fault"><b><Say>{fault.what}</Say></b> <Say>{fault.maybe}</Say></p>}
      {kind?.options?.length ? <Show label="How it speaks" name={'source ' + kind.name}>
        <div class="pair">{kind.options.map(o => o.choice?.length
          ? <div class="field"><label for={p.field + o.key}><Say>{o.words}</Say></label><select id={p.field + o.key} value={parts.options[o.key] ?? ''} onChange={e => p.onValue(format({ ...parts, options: { ...parts.options, [o.key]: (e.target as HTMLSelectElement).value } }))}><option value="">{o.default || 'as it comes'}</option>{o.choice.map(c => <option value={c}>{c}</option>)}</select></div>
          : <Field label={o.words} field={p.field + '.' + o.key} type={o.secret ? 'password' : 'text'} value={parts.options[o.key] ?? ''} guess={o.default || 'skip'} hint={o.hint} wrong={p.wrong} onValue={v => p.onValue(format({ ...parts, options: { ...parts.options, [o.key]: v } }))} />)}</div>
      </Show> : null}
    </div>
  )
}
