import { useSignal } from '@preact/signals'
import { call, useGet, Wrong } from './api'
import { Drawing, Field, headNav, Say, Sheet, Show, StateWord, Swatch, TitleBlock, Trouble, Choice } from './kit'
import type { Card as CardData, Head, Lie, Next } from './types'

interface Both { head: Head; card: CardData }

export const useHead = (id: string) => useGet<Both>(id ? 'heads/' + id : null, c => c.job === id || c.id === id || c.kind === 'rig' || c.kind === 'settings')

const way = (id: string, n: Next) => (n.port ? `#/heads/${id}/count/${n.port}${n.valves.length ? '?mask=' + n.valves.join(',') : ''}` : '#/rigs')

/** The first page of a head. */
export function Card({ id }: { id: string }) {
  const { data, wrong, put } = useHead(id)
  const turning = useSignal(false)
  if (!data) return <Sheet number="Job card" title="" nav={headNav(id, 'card')}><Trouble wrong={wrong} /></Sheet>
  const { head, card } = data
  const todo = Math.max(0, card.next.findIndex(n => n.port)) // the rig's check may be skipped
  const first = card.next[todo]
  const block = card.title_block
  const rig = block.find(r => r.name === 'Rig')?.words
  const leaks = card.counts.find(c => c.state === 'leaks')
  const empty = card.counts.length === 1 && card.counts[0].state === 'not tested'
  return (
    <Sheet wide number={head.number} title={head.title + (head.invented ? ', invented example' : '')} nav={headNav(id, 'card')} line={[head.invented ? 'invented example' : head.title, rig].filter(Boolean).join(', ')}
      act={<a class="act" href={`#/heads/${id}/count/${first?.port ?? head.ports[0]?.id}`} data-key="s">Start a count <kbd>S</kbd></a>}>
      <p class="headline"><b>{card.line}</b> {leaks && <span class="word leaks">{leaks.n} {leaks.word}</span>}</p>
      <div class="cardgrid">
        <section class="plan-side" aria-label="The head in plan">
          <div class="sum">{card.counts.map(c => <p class="count"><Swatch state={c.state} size={34} /><b>{c.n}</b> <StateWord state={c.state} word={c.word} /></p>)}</div>
          <div class="plan-box">
            <Drawing cls="full" mark={card} way={w => `/api/heads/${id}/plan?width=${w}&words=${w > 560 ? 'full' : 'short'}`} />
            <p class="sides"><span><b>{head.lie.intake_away ? 'Intake' : 'Exhaust'} side</b> away from you</span><span><b>{head.lie.intake_away ? 'Exhaust' : 'Intake'} side</b> towards you</span></p>
          </div>
          <div class="lie">
            <p><b>As it lies on your bench</b><br />{card.lie} <span class="long">The plate goes over a port’s mouth, the thick line; never on the chamber.</span></p>
            <button type="button" class="button" aria-expanded={turning.value} onClick={() => (turning.value = !turning.value)}>Turn or mirror</button>
          </div>
          {turning.value && <Turn head={head} done={b => (put(b), (turning.value = false))} />}
          <p class="result"><b>Result so far.</b> <Say>{card.result}</Say></p>
        </section>
        <section class="table-side">
          <PortTable card={card} id={id} />
          <section class="next" aria-label="What to do next">
            {empty && <><h2>No port tested yet.</h2><p class="pad0">A port takes about two minutes.</p></>}
            {!empty && <h2>What to do next</h2>}
            <ol>
              {card.next.slice(0, 8).map((n, i) => (
                <li class={i === todo ? 'first' : ''}>
                  <b>{i !== todo ? <a href={n.port ? `#/heads/${id}/ports/${n.port}` : head.rig ? '#/rigs/' + head.rig : '#/rigs'}><Say>{n.head}</Say></a> : <Say>{n.head}</Say>}</b> <Say>{n.words}</Say>
                  {i === todo && <a class="button red" href={way(id, n)} data-enter><Say>{n.do}</Say> <kbd>Enter</kbd></a>}
                </li>
              ))}
              {!card.next.length && <li class="none">Nothing: every port holds.</li>}
            </ol>
            {card.next.length > 8 && <p class="cap">and {card.next.length - 8} more, in the table’s order</p>}
            {first?.reason && <Show label="If it stays so" name="reason"><p><Say>{first.reason}</Say></p></Show>}
          </section>
          <div class="row pad"><a class="button" href={`/api/heads/${id}/export`} download>Export the head</a><a class="button" href={`/api/heads/${id}/table.csv`} download>Table as CSV</a><a class="button" href={`/api/heads/${id}/table.xlsx`} download>Table as XLSX</a></div>
          <TitleBlock rows={block} />
        </section>
      </div>
    </Sheet>
  )
}

/** Cyl in a table, where there is little room; in full for a voice and on a phone. */
function Named({ name }: { name: string }) {
  const m = name.match(/^cylinders? (.*?) (intake|exhaust)(.*)$/)
  if (!m) return <Say>{name}</Say>
  return <><span class="short" aria-hidden="true"><b>Cyl {m[1]}</b> {m[2]}{m[3]}</span><span class="full">{name[0].toUpperCase() + name.slice(1)}</span></>
}

export function PortTable({ card, id }: { card: CardData; id: string }) {
  return (
    <div class="ports">
      <table>
        <thead><tr><th scope="col">Port</th><th scope="col">Verdict</th><th scope="col" class="r">Leak<br /><Say>{card.unit}</Say></th><th scope="col" class="r">this port,<br />tested again</th><th scope="col" class="r">limit,<br />one valve</th></tr></thead>
        <tbody>
          {card.rows.map(r => (
            <tr>
              <th scope="row" class="port"><a href={`#/heads/${id}/ports/${r.port}`}><Named name={r.name} /></a></th>
              <td class="verdict"><Swatch state={r.state} /><StateWord state={r.state} word={r.word} /></td>
              {r.why && r.state !== 'lapsed' ? <td class="why" colSpan={3}><Say>{r.why}</Say></td> : <>
                <td class={'r fig ' + (r.state === 'leaks' ? 'leaks' : '')}>{r.leak ? r.state === 'lapsed' ? <s>{r.leak}</s> : r.leak : <i class="no-value">–</i>}</td>
                <td class="r" data-name="tested again">{r.again ? r.state === 'lapsed' ? <s>{r.again}</s> : r.again : ''}</td>
                <td class="r" data-name="limit">{r.limit}</td>
              </>}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

/** How the head lies: it asks, and the drawing follows. */
function Turn({ head, done }: { head: Head; done: (b: Both) => void }) {
  const lie = useSignal<Lie>({ ...head.lie })
  const wrong = useSignal<Wrong | null>(null)
  const set = (part: Partial<Lie>) => (lie.value = { ...lie.value, ...part })
  const l = lie.value
  return (
    <form class="turn" onSubmit={e => {
      e.preventDefault()
      call<Both>('PUT', 'heads/' + head.id, { rev: head.rev, lie: { ...l, said: true } }).then(done, e => (wrong.value = e))
    }}>
      <Choice label="On the bench, facing up" words={[{ code: 'y', word: 'chambers' }, { code: '', word: 'cam side' }]} value={l.chambers_up ? 'y' : ''} onValue={v => set({ chambers_up: !!v })} />
      <Choice label="The end where cylinder 1 is" words={[{ code: 'y', word: 'at the left' }, { code: '', word: 'at the right' }]} value={l.first_left ? 'y' : ''} onValue={v => set({ first_left: !!v })} />
      <Choice label="Intake side" words={[{ code: '', word: 'towards you' }, { code: 'y', word: 'away from you' }]} value={l.intake_away ? 'y' : ''} onValue={v => set({ intake_away: !!v })} />
      <Field label="What is at cylinder 1’s end" value={l.landmark} onValue={landmark => set({ landmark })} guess="timing chain" />
      <Trouble wrong={wrong.value} />
      <button class="button">Draw it so</button>
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

