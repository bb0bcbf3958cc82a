import { useSignal } from '@preact/signals'
import { useLayoutEffect, useRef } from 'preact/hooks'
import { call, settings, useGet, Wrong } from './api'
import { asked, BinnedHead, Clash, useEdit } from './edit'
import { Drawing, Field, headNav, Say, Sheet, StateWord, Swatch, TitleBlock, Trouble, Choice } from './kit'
import { OtherShow } from './crosscheck'
import { LossShow } from './loss'
import { UnderWay, useLiveRun } from './start'
import type { Both, Card as CardData, Head, Next, Plan } from './types'

export const cardWay = (id: string, width: number) => 'heads/' + id + (width ? '?width=' + width : '')

/** A head with its card, and its drawing where a width is given: one answer, one state. */
export const useHead = (id: string, width = 0) =>
  useGet<Both>(id ? cardWay(id, width) : null, c => c.job === id || c.id === id || ['rig', 'check', 'settings'].includes(c.kind))

const way = (id: string, n: Next) => (n.port ? `#/heads/${id}/count/${n.port}${n.valves.length ? '?mask=' + n.valves.join(',') : ''}` : '#/rigs')

/** planRoom is how wide the drawing will be by app.css: asked for before there is anything to measure. */
export function planRoom(): number {
  const w = document.documentElement.clientWidth
  return w > 1240 ? Math.min(1400, w - 28) - 590 : w > 760 ? w - 47 : w
}

/** How many things to do are shown before the rest is asked for. */
const few = 3

/** The first page of a head. */
export function Card({ id }: { id: string }) {
  const width = useSignal(planRoom())
  const { data, wrong, put, again } = useHead(id, width.value)
  const turning = useSignal(false)
  const { data: live } = useLiveRun()
  const box = useRef<HTMLDivElement>(null)
  const there = !!data
  useLayoutEffect(() => {
    const e = box.current
    if (!e) return
    const o = new ResizeObserver(() => {
      const w = Math.floor(e.clientWidth)
      if (w >= 60 && Math.abs(w - width.peek()) > 1) width.value = w
    })
    o.observe(e)
    return () => o.disconnect()
  }, [there])
  if (!data) return <Sheet number="Job card" title="" nav={headNav(id, 'card')}><Trouble wrong={wrong} /></Sheet>
  const { head, card, plan } = data
  const block = card.title_block
  const rig = block.find(r => r.name === 'Rig')?.words
  const leaks = card.counts.find(c => c.state === 'leaks')
  const first = card.next.find(n => n.port) // the rig's check may be skipped
  const long = card.rows.length > 8
  const todo = <ToDo card={card} head={head} />
  return (
    <Sheet wide number={head.number} title={head.title + (head.invented ? ', invented example' : '')} nav={headNav(id, 'card')} line={[head.invented ? 'invented example' : head.title, rig].filter(Boolean).join(', ')}
      act={<a class="act" href={`#/heads/${id}/count/${first?.port ?? head.ports[0]?.id}`} data-key="s">Start a count <kbd>S</kbd></a>}>
      <BinnedHead head={head} again={again} />
      {live?.run && <UnderWay run={live.run} />}
      <p class="headline"><b>{card.line}</b> {leaks && <span class="word leaks">{leaks.n} {leaks.word}</span>}</p>
      <div class="cardgrid">
        <section class="plan-side" aria-label="The head in plan">
          <div class="sum">{card.counts.map(c => <p class="count"><Swatch state={c.state} size={34} /><b>{c.n}</b> <StateWord state={c.state} word={c.word} /></p>)}</div>
          <div class="plan-box"><div ref={box}><Drawing cls="full" svg={plan?.svg ?? ''} /></div></div>
          <div class="lie">
            <p><b>As it lies on your bench</b><br />{card.lie} <span class="long">The plate goes over a port’s mouth, the thick line; never on the chamber.</span></p>
            {plan && <Bar plan={plan} />}
            <button type="button" class="button" aria-expanded={turning.value} onClick={() => (turning.value = !turning.value)}>Turn or mirror</button>
          </div>
          {turning.value && <Turn head={head} width={width.value} again={again} done={b => (put(b), (turning.value = false))} />}
          {long && todo}
          <div class="sofar">
            <p class="result"><b>Result so far.</b> <Say>{card.result}</Say></p>
            <div class="takeaway"><a class="quiet" href={`/api/heads/${id}/export`} download>Export the head</a><a class="quiet" href={`/api/heads/${id}/table.csv`} download>Table as CSV</a><a class="quiet" href={`/api/heads/${id}/table.xlsx`} download>Table as XLSX</a></div>
          </div>
        </section>
        <section class="table-side">
          <PortTable card={card} id={id} />
          {!long && todo}
          {head.invented && <p class="tryit"><span>No rig at hand? A make-believe one pulls this head.</span> <a class="button" href={`#/heads/${id}/session`}>Practise without a rig</a></p>}
          <TitleBlock rows={block} />
        </section>
      </div>
      <LossShow id={id} />
      <OtherShow id={id} />
    </Sheet>
  )
}

/** A bar as long as 50 mm of the head are in the drawing. */
function Bar({ plan }: { plan: Plan }) {
  const w = plan.bar
  return (
    <figure class="scalebar">
      <svg width={w + 2} height="12" aria-hidden="true"><path d={`M1 0V11H${w + 1}V0M${1 + w / 2} 5V11`} /></svg>
      <figcaption><span aria-hidden="true">0</span><span>{plan.bar_words}</span></figcaption>
    </figure>
  )
}

/** What to do next; the one thing to do first is a button. */
function ToDo({ card, head }: { card: CardData; head: Head }) {
  const all = useSignal(false)
  const why = useSignal(localStorage.getItem('show reason') === '1') // remembered, as all that is hidden until asked for
  const todo = Math.max(0, card.next.findIndex(n => n.port))
  const first = card.next[todo]
  const empty = card.counts.length === 1 && card.counts[0].state === 'not tested'
  const rest = card.next.length - few
  return (
    <section class={'next' + (all.value ? ' all' : '')} aria-label="What to do next">
      {empty ? <><h2>No port tested yet.</h2><p class="pad0">A port takes about two minutes.</p></> : <h2>What to do next</h2>}
      <ol>
        {card.next.slice(0, all.value ? undefined : few).map((n, i) => (
          <li class={i === todo ? 'first' : ''}>
            <b>{i !== todo ? <a href={n.port ? `#/heads/${head.id}/ports/${n.port}` : head.rig ? `#/rigs/${head.rig}/check` : '#/rigs'}><Say>{n.head}</Say></a> : <Say>{n.head}</Say>}</b> <Say>{n.words}</Say>
            {i === todo && <a class="button red" href={way(head.id, n)} data-enter><Say>{n.do}</Say> <kbd>Enter</kbd></a>}
          </li>
        ))}
        {!card.next.length && <li class="none">Nothing: every port holds.</li>}
      </ol>
      <div class="row more">
        {rest > 0 && <button type="button" class="quiet" aria-expanded={all.value} onClick={() => (all.value = !all.value)}>{all.value ? `the first ${few} alone` : `and ${rest} more`}</button>}
        {first?.reason && <button type="button" class="quiet" aria-expanded={why.value} onClick={() => {
          why.value = !why.value
          localStorage.setItem('show reason', why.value ? '1' : '0')
        }}>If it stays so: {why.value ? 'hide' : 'show'}</button>}
      </div>
      {why.value && first?.reason && <p class="stays"><Say>{first.reason}</Say></p>}
    </section>
  )
}

/** Cyl in a table, where there is little room; in full for a voice and on a phone. */
function Named({ name }: { name: string }) {
  const m = name.match(/^cylinders? (.*?) (intake|exhaust)(.*)$/)
  if (!m) return <Say>{name}</Say>
  return <><span class="short" aria-hidden="true"><b>Cyl {m[1]}</b> {m[2]}{m[3]}</span><span class="full">{name[0].toUpperCase() + name.slice(1)}</span></>
}

/** A figure of the table: words before it stand small above, an old one is struck through. */
function Figure({ words, old }: { words: string; old: boolean }) {
  const m = words.match(/^([a-z ]+) (\S+)$/)
  const is = m ? <><small>{m[1]} </small>{m[2]}</> : <>{words}</>
  return old ? <s>{is}</s> : is
}

export function PortTable({ card, id }: { card: CardData; id: string }) {
  return (
    <div class="ports">
      <p class="unitline" aria-hidden="true"><Say>{card.unit}</Say></p>
      <table>
        <thead><tr><th scope="col">Port</th><th scope="col">Verdict</th><th scope="col" class="r">Leak<br /><Say>{card.unit}</Say></th><th scope="col" class="r">this port,<br />tested again</th><th scope="col" class="r">limit,<br />one valve</th></tr></thead>
        <tbody>
          {card.rows.map(r => (
            <tr>
              <th scope="row" class="port"><a href={`#/heads/${id}/ports/${r.port}`}><Named name={r.name} /></a></th>
              <td class="verdict"><Swatch state={r.state} /><StateWord state={r.state} word={r.word} />{(r.blame || r.ground) && <small class="blame">{r.blame}{r.blame && r.ground && <br />}{r.state !== 'lapsed' && <span class="ground"><Say>{r.ground}</Say></span>}</small>}</td>
              {r.why && r.state !== 'lapsed' ? <td class="why" colSpan={3}><Say>{r.why}</Say></td> : <>
                <td class={'r fig ' + (r.state === 'leaks' ? 'leaks' : '')}>{r.leak ? <Figure words={r.leak} old={r.state === 'lapsed'} /> : <i class="no-value">–</i>}</td>
                <td class="r" data-name="tested again">{r.again && <Figure words={r.again} old={r.state === 'lapsed'} />}</td>
                <td class="r" data-name="limit">{r.limit}{r.limit_by && <small><Say>{r.limit_by}</Say></small>}{r.beside && <small><Say>{r.beside}</Say></small>}</td>
              </>}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

const lieNames: Record<string, string> = { 'lie.chambers_up': 'Facing up', 'lie.first_left': 'The end where cylinder 1 is', 'lie.intake_away': 'Intake side', 'lie.landmark': 'What is at that end', 'lie.said': 'How it lies' }
const lieWords: Record<string, [string, string]> = { 'lie.chambers_up': ['chambers', 'cam side'], 'lie.first_left': ['at the left', 'at the right'], 'lie.intake_away': ['away from you', 'towards you'], 'lie.said': ['said', 'not said'] }

/** How the head lies: it asks, and the drawing follows. */
function Turn({ head, width, done, again }: { head: Head; width: number; done: (b: Both) => void; again: () => void }) {
  const yes = (on: boolean) => (on ? 'yes' : 'no')
  const l = head.lie
  const edit = useEdit('lie ' + head.id, head.rev, { 'lie.chambers_up': yes(l.chambers_up), 'lie.first_left': yes(l.first_left), 'lie.intake_away': yes(l.intake_away), 'lie.landmark': l.landmark })
  const wrong = useSignal<Wrong | null>(null)
  const at = (k: string) => ({ value: edit.v[k], onValue: (x: string) => edit.set({ [k]: x }) })
  const words = (k: string) => lieWords[k].map((word, i) => ({ code: i ? 'no' : 'yes', word }))
  return (
    <form class="turn" onSubmit={e => {
      e.preventDefault()
      if (edit.differs.length) return
      const { lie } = asked(edit.typed)
      call<Both>('PUT', `heads/${head.id}?width=${width}`, { rev: head.rev, by: settings.value!.initials, lie: { ...lie, said: true } }).then(b => (edit.clear(), done(b)), (e: Wrong) => {
        wrong.value = e
        if (e.status === 409) again()
      })
    }}>
      <Choice label="On the bench, facing up" words={words('lie.chambers_up')} {...at('lie.chambers_up')} />
      <Choice label="The end where cylinder 1 is" words={words('lie.first_left')} {...at('lie.first_left')} />
      <Choice label="Intake side" words={words('lie.intake_away').reverse()} {...at('lie.intake_away')} />
      <Field label="What is at cylinder 1’s end" {...at('lie.landmark')} guess="timing chain" />
      <Clash edit={edit} label={k => lieNames[k]} show={(k, t) => (lieWords[k] ? lieWords[k][t === 'yes' ? 0 : 1] : t)} />
      {!edit.differs.length && <Trouble wrong={wrong.value} />}
      <button class="button" disabled={edit.differs.length > 0}>Draw it so</button>
    </form>
  )
}

/** The ports of a head, each a way to its sheet. */
export function Ports({ id }: { id: string }) {
  const { data, wrong } = useHead(id)
  if (!data) return <Sheet number="Ports" title="" nav={headNav(id, 'ports')}><Trouble wrong={wrong} /></Sheet>
  return (
    <Sheet number={data.head.number} title={data.head.title} nav={headNav(id, 'ports')} line="ports">
      <PortTable card={data.card} id={id} />
    </Sheet>
  )
}

