// A test that lies under the wrong port is moved with one key, and back again.
import { signal, useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { call, settings, useGet, Wrong } from './api'
import { useHead } from './card'
import { Choice, go, Trouble } from './kit'
import type { Test } from './types'

interface Moved { test: Test; from: { job: string; port: string; name: string } }

/** The last move of this page, until it is undone or another is made. */
export const moved = signal<Moved | null>(null)

const sheetOf = (job: string, port: string) => (job ? `#/heads/${job}/ports/${port}` : '#/tray')

const send = (t: Test, job: string, port: string) => call<{ test: Test }>('POST', `tests/${t.id}/move`, { rev: t.rev, job, port })

/** Moves a test to another port. */
export function Move({ test, done }: { test: Test; done: (to: string) => void }) {
  const job = useSignal(test.job)
  const { data: all } = useGet<{ heads: { id: string; number: string }[] }>('heads', () => false)
  const { data } = useHead(job.value)
  const wrong = useSignal<Wrong | null>(null)
  const box = useRef<HTMLElement>(null)
  useEffect(() => box.current?.focus(), [])
  const to = (j: string, port: string) => send(test, j, port).then(r => {
    moved.value = { test: r.test, from: { job: test.job, port: test.port, name: test.job ? test.port_name : 'the tray' } }
    done(sheetOf(j, port))
  }, e => (wrong.value = e))
  const ports = data?.head.ports ?? []
  return (
    <section class="move" aria-label="Where does this test belong?" tabIndex={-1} ref={box}>
      <h3>Where does this test belong?</h3>
      <Choice label="Head" words={[...(all?.heads ?? []).map(h => ({ code: h.id, word: h.number })), { code: '', word: 'the tray' }]} value={job.value} onValue={v => (job.value = v)} />
      <div class="grid">
        {job.value ? ports.map((p, i) => {
          const here = p.id === test.port && job.value === test.job
          return <button type="button" class="button" disabled={here} data-key={i < 9 ? String(i + 1) : undefined} onClick={() => to(job.value, p.id)}>{p.name}{i < 9 && <> <kbd>{i + 1}</kbd></>}</button>
        })
          : <button type="button" class="button" disabled={!test.job} onClick={() => to('', '')}>Into the tray</button>}
      </div>
      <Trouble wrong={wrong.value} />
    </section>
  )
}

/** What was moved last, where it now lies, with the way back. */
export function Undo({ job, port }: { job: string; port: string }) {
  const wrong = useSignal<Wrong | null>(null)
  const m = moved.value
  if (!m || m.test.job !== job || m.test.port !== port) return null
  return (
    <div class="undo" role="status">
      <p><b>Moved here from {m.from.name}:</b> the test of {m.test.when}.</p>
      <button type="button" class="button" data-key="u" onClick={() => send(m.test, m.from.job, m.from.port).then(() => ((moved.value = null), go(sheetOf(m.from.job, m.from.port))), e => (wrong.value = e))}>Undo <kbd>U</kbd></button>
      <Trouble wrong={wrong.value} />
    </div>
  )
}
