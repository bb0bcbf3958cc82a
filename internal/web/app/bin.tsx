import { useSignal } from '@preact/signals'
import { call, settings, useGet, type Wrong } from './api'
import { home, Say, Sheet, StateWord, Swatch, Trouble } from './kit'
import type { HeadRow, Test } from './types'

interface Back { words: string; to: string; name: string }

/** What was put aside: each comes back with one key. */
export function Bin() {
  const heads = useGet<{ heads: HeadRow[] }>('heads?binned=1', c => c.kind === 'job')
  const tests = useGet<{ tests: Test[] }>('tests?binned=1', c => c.kind === 'test')
  const wrong = useSignal<Wrong | null>(null)
  const back = useSignal<Back | null>(null)
  const out = (what: string, id: string, rev: number, came: (r: any) => Back) =>
    call<any>('POST', `${what}/${id}/unbin`, { rev, by: settings.value!.initials }).then(r => {
      back.value = came(r)
      wrong.value = null
      heads.again()
      tests.again()
    }, e => (wrong.value = e))
  const b = back.value
  const none = heads.data && tests.data && !heads.data.heads.length && !tests.data.tests.length
  let n = 0
  const key = () => (++n <= 9 ? String(n) : undefined)
  return (
    <Sheet number="Bin" title="what was put aside; nothing is lost" line="what was put aside" nav={home('bin')}>
      <Trouble wrong={wrong.value ?? heads.wrong ?? tests.wrong} />
      {b && <div class="gone" role="status"><p><b><Say>{b.words}</Say></b></p><a class="button" href={b.to}>{b.name}</a></div>}
      {none && <section class="empty"><h2>The bin is empty.</h2><p>What is put into it stays in it until you take it out again.</p></section>}
      {heads.data && heads.data.heads.length > 0 && <h2 class="pad">Heads</h2>}
      <ul class="heads">{heads.data?.heads.map(h => {
        const k = key()
        return (
          <li><a href={'#/heads/' + h.id}><b class="no">{h.number}</b><span class="what">{h.title}{h.invented ? ', invented example' : ''}</span><span class="counts">{h.counts.map(c => <span class="cnt"><Swatch state={c.state} size={24} /><b>{c.n}</b><StateWord state={c.state} word={c.word} /></span>)}</span><span class="when">{h.when}</span></a>
            <button type="button" class="button" data-key={k} onClick={() => out('heads', h.id, h.rev, () => ({ words: `${h.number} is out of the bin.`, to: '#/heads/' + h.id, name: 'Its job card' }))}>Take out again<span class="vh">: {h.number}</span> {k && <kbd>{k}</kbd>}</button></li>
        )
      })}</ul>
      {tests.data && tests.data.tests.length > 0 && <h2 class="pad">Tests</h2>}
      <ul class="tray">{tests.data?.tests.map(t => {
        const k = key()
        return (
          <li><div class="row"><Swatch state={t.reading.state} size={34} /><div class="grow"><b>{t.when}</b> {t.head ? `${t.head}, ${t.port_name}` : 'of the tray'}: {t.source_word}<br /><Say>{t.reading.line}</Say></div>
            <button type="button" class="button" data-key={k} onClick={() => out('tests', t.id, t.rev, r => {
              const at = r.test as Test
              return at.job ? { words: `The test is on ${at.port_name} again.`, to: `#/heads/${at.job}/ports/${at.port}`, name: 'Its port' } : { words: 'The test is in the tray.', to: '#/tray', name: 'The tray' }
            })}>Take out again<span class="vh">: the test of {t.when}</span> {k && <kbd>{k}</kbd>}</button></div></li>
        )
      })}</ul>
    </Sheet>
  )
}
