import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { call, choose, send, settings, useGet, words, Wrong } from './api'
import { Choice, Drawing, Field, go, home, Insist, Say, Sheet, StateWord, Swatch, Tick, Trouble, useDraft } from './kit'
import { UnderWay, useLiveRun } from './start'
import type { Head, HeadRow } from './types'

export function Heads() {
  const find = useSignal('')
  const { data, wrong, again } = useGet<{ heads: HeadRow[] }>(`heads?find=${encodeURIComponent(find.value)}`, c => c.kind !== 'settings')
  const { data: live } = useLiveRun()
  const heads = data?.heads
  const none = heads && !heads.length && !find.value
  return (
    <Sheet number="Heads" title="what is on the bench" line="seatproof" nav={home('heads')}
      act={<a class="act" href="#/new" data-key="n">New head <kbd>N</kbd></a>}>
      <Trouble wrong={wrong} />
      {live?.run && <UnderWay run={live.run} />}
      {none ? (
        <section class="empty">
          <h2>No head booked in yet.</h2>
          <p>Cylinders, valves and bore are enough; all else can be skipped.</p>
          <div class="row"><a class="button red" href="#/new" data-enter>Book in the first head</a><a class="button" href="#/count">Quick test, no head</a><a class="button" href="#/first">Which way round?</a></div>
        </section>
      ) : (
        <div class="bar">
          <Field label="Find a head" value={find.value} onValue={v => (find.value = v)} type="search" />
          <a class="button" href="#/bin">Look in the bin</a>
          <a class="button" href="#/count">Quick test, no head</a>
        </div>
      )}
      {/* In one place with and without heads: what it said stays when the first one comes in. */}
      <Import done={again} />
      {!none && (
        <>
          <ul class="heads">
            {heads?.map(h => (
              <li>
                <a href={'#/heads/' + h.id}>
                  <b class="no">{h.number}</b>
                  <span class="what">{h.title}{h.invented ? ', invented example' : ''}</span>
                  <span class="counts">{h.counts.map(c => <span class="cnt"><Swatch state={c.state} size={24} /><b>{c.n}</b><StateWord state={c.state} word={c.word} /></span>)}</span>
                  <span class="when">{h.when}</span>
                </a>
                <a class="button" href={`#/heads/${h.id}/same`}>Same as {h.number}</a>
              </li>
            ))}
          </ul>
          {heads && !heads.length && <p class="pad">No head has these words.</p>}
        </>
      )}
    </Sheet>
  )
}

interface Came { head: Head; says: string }

/** Takes in a head that an export wrote, and shows the answer. */
function Import({ done }: { done: () => void }) {
  const file = useSignal<File | null>(null)
  const part = useSignal(-1) // of the file that is sent; below 0: nothing is
  const came = useSignal<Came | null>(null)
  const wrong = useSignal<Wrong | null>(null)
  const go = (copy: boolean) => {
    if (!file.value) return
    const form = new FormData()
    if (copy) form.append('copy', '1')
    form.append('file', file.value)
    came.value = wrong.value = null
    part.value = 0
    send<Came>('heads/import', form, p => (part.value = p)).done
      .then(r => ((came.value = r), done()), e => (wrong.value = e))
      .finally(() => (part.value = -1))
  }
  const busy = part.value >= 0
  const w = wrong.value
  return (
    <div class="pad import">
      <label class={'button file' + (busy ? ' busy' : '')}>{busy ? `Sending, ${Math.round(part.value * 100)} %` : 'Import a head'}<input type="file" accept=".zip,application/zip" disabled={busy} onChange={e => {
        const input = e.target as HTMLInputElement
        file.value = input.files?.[0] ?? null
        input.value = '' // so that the same file can be chosen again
        go(false)
      }} /></label>
      {came.value && <p role="status"><a href={'#/heads/' + came.value.head.id}><b>{came.value.head.number}</b></a> <Say>{came.value.says}</Say></p>}
      {w && <p class="trouble" role="alert"><b><Say>{w.what}</Say></b> <Say>{w.fix}</Say></p>}
      {w?.fields.some(f => f.field === 'copy' && f.ask) && <button type="button" class="button" onClick={() => go(true)}>Import it as a copy</button>}
    </div>
  )
}

const start = { number: '', kind: 'inline', cylinders: '4', valves: '4', numbers: '', count: '', ports: '', exhaust: '', same_side: '', bank: '1', plugs: '', bore: '', stroke: '', intake_head: '', exhaust_head: '', unit: 'mm', owner: '', initials: '' }

function asked(d: typeof start, insist = false) {
  return {
    insist,
    number: d.number, owner: d.owner, initials: d.initials,
    layout: {
      kind: d.kind, cylinders: +d.cylinders || 0, valves: +d.valves || 0, numbers: d.numbers, intake: d.ports, exhaust: d.exhaust, same_side: d.same_side === 'yes', count: d.kind === 'inline' ? '' : d.count, bank: d.kind === 'inline' ? 0 : +d.bank, plugs: d.plugs.split(',').map(s => s.trim()).filter(Boolean),
      bore: d.bore, stroke: d.stroke, intake_head: d.intake_head, exhaust_head: d.exhaust_head, unit: d.unit,
    },
  }
}

/** A layout in one step, drawn while it is chosen. */
export function NewHead() {
  const [d, change, clear] = useDraft('head', { ...start, initials: settings.value!.initials, owner: settings.value!.owner })
  const plan = useSignal('')
  const lie = useSignal('')
  const says = useSignal('')
  const seen = useSignal<Wrong | null>(null)
  const wrong = useSignal<Wrong | null>(null)
  const w = words.value!
  const what = JSON.stringify(asked(d).layout)
  useEffect(() => {
    let still = true
    const width = Math.min(760, document.querySelector('.preview')?.clientWidth ?? 520)
    const t = setTimeout(() => call<{ head: Head; plan: string; lie: string }>('POST', 'layout?width=' + width, asked(d)).then(
      r => still && ((plan.value = r.plan), (lie.value = r.lie), (says.value = r.head.says), (seen.value = null)),
      (e: Wrong) => {
        e.quiet = true
        if (still) seen.value = e
      },
    ), 120)
    return () => {
      still = false
      clearTimeout(t)
    }
  }, [what])
  const label = `Head ${(useGet<{ heads: HeadRow[] }>('heads', () => false).data?.heads.length ?? 0) + 1}`
  const at = (name: keyof typeof start) => ({ value: d[name], onValue: (v: string) => change({ [name]: v }) })
  const both = wrong.value ?? seen.value
  const numbers = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => ({ code: String(from + i), word: String(from + i) }))
  const file = (e: Event | null, insist = false) => {
    e?.preventDefault()
    call<{ head: Head }>('POST', 'heads', asked({ ...d, number: d.number || label }, insist)).then(r => {
      if (d.initials !== settings.value!.initials || d.owner !== settings.value!.owner) choose({ initials: d.initials, owner: d.owner })
      clear()
      go('#/heads/' + r.head.id)
    }, e => (wrong.value = e))
  }
  return (
    <Sheet number="New head" title="book it in" line="all of it can be skipped" nav={home('heads')}>
      <form class="split newhead" onSubmit={e => file(e)} noValidate>
        <div class="left">
          <Field label="Label, as on its tag" field="number" wrong={wrong.value} {...at('number')} guess={label} />
          <Choice label="Engine" words={w.layouts} {...at('kind')} />
          {d.kind !== 'inline' && <><Choice label="Bank" words={[{ code: '1', word: 'the first' }, { code: '2', word: 'the second' }]} {...at('bank')} /><Choice label="Its maker counts" words={w.counts} {...at('count')} /></>}
          <Choice label="Cylinders of this head" words={numbers(1, 8)} {...at('cylinders')} />
          <Choice label="Valves a cylinder" words={numbers(2, 5)} {...at('valves')} />
          <Choice label="Intake ports" words={w.ports} {...at('ports')} />
          <Choice label="Exhaust ports" words={w.ports} {...at('exhaust')} />
          <div class="ticks gap"><Tick label="Intake and exhaust ports open on one side" value={d.same_side === 'yes'} onValue={on => change({ same_side: on ? 'yes' : '' })} /></div>
          <div class="pair">
            <Field label="Bore" unit={d.unit} field="layout.bore" wrong={both} mode="decimal" guess="skip: guessed" {...at('bore')} />
            <Field label="Stroke" unit={d.unit} field="layout.stroke" wrong={both} mode="decimal" guess="skip" {...at('stroke')} />
            <Field label="Intake valve, head" unit={d.unit} field="layout.intake_head" wrong={both} mode="decimal" guess="skip: guessed" {...at('intake_head')} />
            <Field label="Exhaust valve, head" unit={d.unit} field="layout.exhaust_head" wrong={both} mode="decimal" guess="skip: guessed" {...at('exhaust_head')} />
            <Field label="Cylinder numbers" field="layout.numbers" wrong={both} guess="1 2 3, as its maker counts" {...at('numbers')} />
            <Field label="Other openings of an intake port" guess="none: injector hole, vacuum tapping" {...at('plugs')} />
            <Field label="Owner" {...at('owner')} guess="skip" />
            <Field label="Your initials" {...at('initials')} guess="skip" />
          </div>
          <Trouble wrong={both} />
          <Insist wrong={wrong.value} yes={() => file(null, true)} />
        </div>
        <div class="right">
          <div class="preview"><Drawing svg={plan.value} /></div>
          <p class="says"><Say>{says.value}</Say></p>
          <p class="cap">{lie.value} What is not said can be changed on the job card.</p>
          <button class="button red wide" data-enter>Book it in</button>
        </div>
      </form>
    </Sheet>
  )
}

/** The same as one that was here before: a label is all it needs. */
export function SameAs({ id }: { id: string }) {
  const { data } = useGet<{ head: Head }>('heads/' + id, () => false)
  const [d, change, clear] = useDraft('same ' + id, { number: '' })
  const wrong = useSignal<Wrong | null>(null)
  const plan = useSignal('')
  useEffect(() => {
    const width = Math.min(560, document.documentElement.clientWidth - 32)
    call<{ plan: string }>('POST', 'layout?width=' + width, { same_as: id }).then(r => (plan.value = r.plan), () => {})
  }, [id])
  if (!data) return null
  return (
    <Sheet number="New head" title={'same as ' + data.head.number} nav={home('heads')}>
      <form class="narrow" noValidate onSubmit={e => {
        e.preventDefault()
        call<{ head: Head }>('POST', 'heads', { same_as: id, number: d.number, initials: settings.value!.initials }).then(r => (clear(), go('#/heads/' + r.head.id)), e => (wrong.value = e))
      }}>
        <p>Its ports, valves, sizes, limit and rig are taken from {data.head.number}; tests are not.</p>
        <div class="preview"><Drawing svg={plan.value} /></div>
        <p class="says"><Say>{data.head.says}</Say></p>
        <Field label="Label, as on its tag" field="number" value={d.number} onValue={number => change({ number })} wrong={wrong.value} />
        <Trouble wrong={wrong.value} />
        <button class="button red" data-enter>Book it in</button>
      </form>
    </Sheet>
  )
}
