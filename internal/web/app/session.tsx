// The sheet of a session, to be read from three metres and heard with the eyes
// elsewhere: the port, the step, the vacuum, what was lost.
import { signal, useSignal } from '@preact/signals'
import { useEffect, useLayoutEffect, useRef } from 'preact/hooks'
import { settings, words, choose } from './api'
import { useHead } from './card'
import { Drawing, Say, Sheet, StateWord, Swatch, Trouble } from './kit'
import { canFill, fill, useLit, whole } from './lit'
import { now, press, pump, run, silent, trouble, useLive } from './live'
import { Start, useLiveRun } from './start'
import { Ruler, Strip } from './strip'
import { follow, sound, still } from './tone'
import { RigFaults } from './faults'
import type { Frame, Gauge, Run, Said } from './types'
import { prepare, say, wake } from './voice'

export function Session({ id }: { id: string }) {
  const { data, again } = useLiveRun()
  const seen = useRef(false) // it went on while this sheet was shown
  useEffect(() => {
    if (data && run.peek() === undefined) run.value = data.run
    else if (data?.run && run.peek()?.id !== data.run.id) run.value = data.run
  }, [data])
  useEffect(() => () => void (run.value = undefined), [])
  const r = run.value
  const mine = r && r.job === id
  if (mine && r.view.stage !== 'over') seen.current = true
  if (mine && r.view.stage === 'over' && seen.current) return <Over run={r} again={() => {
    seen.current = false
    run.value = null
    again()
  }} />
  if (mine && r.view.stage !== 'over') return <LiveSheet run={r} />
  return <Start id={id} live={data} />
}

/** A leak with its unit, where it came without. */
export const leakWords = (s: string) => (/^[\d.,]+$/.test(s) ? s + ' cm³/min' : s)

export const big = (s: string) => (s ? s[0].toUpperCase() + s.slice(1) : '')

/** What was said last; it stands on the sheet too. */
export const last = signal<Said | null>(null)

let queue: Promise<unknown> = Promise.resolve()
let waiting = 0

/** Shows sentences, and says them one after the other; a count that would come
 * late is left out. Browsers want a key or a finger before the first sound. */
export function hear(list: Said[]) {
  const active = (navigator as any).userActivation
  const mute = sessionStorage.getItem('mute') === '1' || (active && !active.hasBeenActive)
  for (const s of list) {
    if (s.words && !/^\d+$/.test(s.words)) last.value = s
    if (!s.speak || mute) continue
    if (s.code === 'call' && waiting) continue
    waiting++
    queue = queue.then(() => say(s.tone || s.code, s.speak)).finally(() => waiting--)
  }
}

/** How the sheet's foot stands: its keys, a list of ports, or a question. */
type Foot = '' | 'refile' | 'go-to' | 'end'

/** What a live sheet has beside its words: a foot that answers, voice and tone, and what is drawn with each frame. */
export function useBench<F extends string>() {
  const foot = useSignal<F | '' | 'end'>('')
  const tone = useSignal(false)
  const mute = useSignal(sessionStorage.getItem('mute') === '1')
  const draw = useRef<() => void>(() => {})
  const figure = useRef<() => void>(() => {})
  useLive((f: Frame) => {
    draw.current()
    figure.current()
    if (f.say?.length) hear(f.say)
    const n = now.points[now.points.length - 1]
    follow(f.v && n ? n[1] : null, run.peek()?.unit ?? '') // of the run as it is now: the unit may be changed
  })
  useLit()
  useEffect(() => {
    last.value = null
    prepare([...Object.values(words.value!.calls)])
    const first = () => wake() // browsers want a key or a finger before the first sound
    addEventListener('pointerdown', first, { once: true })
    addEventListener('keydown', first, { once: true })
    const esc = (e: KeyboardEvent) => {
      if (e.key !== 'Escape' || e.repeat) return
      foot.value = foot.value ? '' : 'end'
    }
    addEventListener('keydown', esc)
    return () => {
      removeEventListener('pointerdown', first)
      removeEventListener('keydown', first)
      removeEventListener('keydown', esc)
      still()
    }
  }, [])
  return { foot, tone, mute, draw, figure }
}

function LiveSheet({ run: r }: { run: Run }) {
  const v = r.view
  const g: Gauge | undefined = v.gauges.find(x => x.judged) ?? v.gauges[0]
  const { foot, tone, mute, draw, figure } = useBench<Foot>()
  const step = stepOf(r, g)
  const t = v.test
  const name = big(v.target_name)
  const sub = [r.head, r.practise && !/practi[cs]e/.test(g?.name ?? '') && 'practice', g?.name].filter(Boolean).join(', ')
  const steps: [string, string, string][] = [
    ['vented', 'Vented', v.facts?.vented || 'plate on, pump off'],
    ['pull', 'Pull', v.facts?.pull || 'pump on, until steady'],
    ['hold', 'Hold', v.facts?.hold || 'pump off, hands off'],
    ['vent', 'Vent', v.facts?.vent || 'open the valve'],
  ]
  const says = silent.value ? 'Nothing comes from the program.' : g?.says || r.trouble || r.relay?.trouble || ''
  const held = t?.held ? t.held_s : -1
  return (
    <Sheet live number="Session" title={sub} line={sub} nav={[]}>
      <ol class="stepsrow" aria-label="Step">{steps.map(([code, word, fact]) => <li aria-current={code === step ? 'step' : undefined}><b>{word}</b> <span><Say>{fact}</Say></span></li>)}</ol>
      <section class="at" aria-label="Under the plate">
        <div class="title1"><h2>{name}</h2>{t && <p>test {t.test}</p>}</div>
        <div class="vacuum">
          <Figure unit={r.unit} tell={f => (figure.current = f)} gone={silent.value || !!g?.error} />
          <div class="lostbox" aria-live="off">
            {held >= 0 && t ? <><p>lost</p><p class="b">{t.lost || '–'}</p><p>in {held} s of {t.of_s} s</p></> : <p class="hint1"><Say>{hint(r, step)}</Say></p>}
            {t?.estimate && <p class="sofar1"><StateWord state={stateOf(t.estimate.word)} word={t.estimate.word} /> so far{t.estimate.leak && <>: <b><Say>{leakWords(t.estimate.leak)}</Say></b></>}</p>}
          </div>
        </div>
        {held >= 0 && t && <Ruler t={Math.min(held, t.of_s)} of={t.of_s} />}
        {says ? <p class="says1" role="alert"><b><Say>{says}</Say></b></p> : <p class="said" role="status">{last.value && <Say>{big(last.value.words)}</Say>}</p>}
      </section>
      <section class="beside" aria-label="The head and what was filed">
        <Drawing cls="mini" mark={v.target} way={w => `/api/heads/${r.job}/plan?width=${Math.min(w, 520)}&words=none&here=${v.stage === 'ports' ? v.target : 'none'}`} />
        <div class="filedlast">
          <h3>Filed last</h3>
          <ul>{v.filed.slice(0, 3).map(f => <li><Swatch state={f.state} /><StateWord state={f.state} word={f.word || 'being read'} /><span class="grow">{big(f.name)}</span><span class="leak1">{f.leak ? <Say>{leakWords(f.leak)}</Say> : f.at}</span></li>)}</ul>
          {!v.filed.length && <p class="cap">Nothing yet.</p>}
          <p class="checks">{[v.check.blank, v.check.known].filter(c => c?.words).map(c => <span><Say>{big(c.words)}</Say></span>)}</p>
        </div>
      </section>
      <section class="stripbox" aria-label="Strip"><Strip hear={f => (draw.current = f)} /></section>
      <Trouble wrong={trouble.value} />
      <Foot run={r} foot={foot.value} set={f => (foot.value = f)} step={step} />
      <div class="tools">
        <button type="button" class="quiet" data-key="v" aria-pressed={!mute.value && settings.value!.sound !== 'none' && !!settings.value!.sound} onClick={() => {
          wake()
          if (!settings.value!.sound || settings.value!.sound === 'none') choose({ sound: 'voice' })
          else mute.value = !mute.value
          sessionStorage.setItem('mute', mute.value ? '1' : '0')
        }}>Voice {mute.value || !settings.value!.sound || settings.value!.sound === 'none' ? 'off' : 'on'} <kbd>V</kbd></button>
        <button type="button" class="quiet" data-key="t" aria-pressed={tone.value} onClick={() => ((tone.value = !tone.value) ? sound() : still())}>Tone {tone.value ? 'on' : 'off'} <kbd>T</kbd></button>
        <button type="button" class="quiet" data-key="g" disabled={v.stage !== 'ports'} onClick={() => (foot.value = foot.value === 'go-to' ? '' : 'go-to')}>Other port <kbd>G</kbd></button>
        {canFill() && <button type="button" class="quiet wide1" data-key="w" aria-pressed={whole.value} onClick={fill}>Whole screen <kbd>W</kbd></button>}
        <a class="quiet phone1" href={`#/phone?to=heads/${r.job}/session`}>Show on a phone</a>
        <button type="button" class="quiet end1" onClick={() => (foot.value = foot.value === 'end' ? '' : 'end')}>End session <kbd>Esc</kbd></button>
      </div>
      {!isSecureContext && <p class="cap plain1"><Say>{words.value!.plain.screen}</Say></p>}
    </Sheet>
  )
}

export function stepOf(r: Run, g: Gauge | undefined): string {
  const t = r.view.test
  if (!t) return 'vented'
  if (t.enough) return 'vent'
  if (t.held || g?.phase === 'hold') return 'hold'
  return 'pull'
}

function hint(r: Run, step: string): string {
  if (step === 'pull') return r.view.test?.steady ? 'Steady. Shut the valve.' : 'Until it stands still.'
  if (r.view.stage === 'blank') return 'Blank under the plate, then pump on.'
  if (r.view.stage === 'known-leak') return 'Known leak under the plate, then pump on.'
  return 'Plate on the port’s mouth, then pump on.'
}

const stateOf = (word: string) => (word === 'leaks' ? 'leaks' : word)

const every = 260 // ms: the figure changes four times a second at most

/** The vacuum, as large as the room lets it be; its whole number is what reads at three metres. */
export function Figure({ unit, tell, gone }: { unit: string; tell: (f: () => void) => void; gone: boolean }) {
  const box = useRef<HTMLDivElement>(null)
  const row = useRef<HTMLSpanElement>(null)
  const main = useRef<HTMLSpanElement>(null)
  const part = useRef<HTMLSpanElement>(null)
  const unitAt = useRef<HTMLParagraphElement>(null)
  const none = useRef(gone)
  none.current = gone
  const show = useRef<() => void>(() => {})
  useLayoutEffect(() => {
    let at = -Infinity, due = 0, text = '', shape = ''
    const set = () => {
      due = 0
      at = performance.now()
      const v = none.current ? '' : now.v
      if (v === text && shape) return
      text = v
      const m = v.match(/^([-−]?\d*)(.*)$/)!
      main.current!.textContent = m[1] || (m[2] ? '' : '–')
      part.current!.textContent = m[2]
      const like = v.replace(/\d/g, '0')
      if (like !== shape || !v) {
        shape = like || '–'
        fit()
      }
    }
    // The height stays; where a figure is too long for the screen it is drawn narrower, and only then smaller.
    const fit = () => {
      const e = row.current!, u = unitAt.current!
      const bare = !part.current!.textContent
      box.current!.classList.toggle('bare', bare)
      box.current!.classList.toggle('empty', !text)
      const room = box.current!.clientWidth - (bare && getComputedStyle(u).position === 'absolute' ? u.offsetWidth : 0)
      e.style.transform = e.style.fontSize = ''
      const size = parseFloat(getComputedStyle(e).fontSize)
      const k = Math.min(1, room / e.scrollWidth)
      if (k < 0.68) e.style.fontSize = (size * k) / 0.68 + 'px'
      if (k < 1) e.style.transform = `scaleX(${Math.max(k, 0.68)})`
      u.style.left = main.current!.getBoundingClientRect().right - box.current!.getBoundingClientRect().left + 'px'
    }
    show.current = () => {
      if (due) return
      const wait = at + every - performance.now()
      if (wait <= 0 || (none.current && text)) set()
      else due = window.setTimeout(set, wait)
    }
    tell(show.current)
    set()
    const o = new ResizeObserver(fit)
    o.observe(box.current!)
    document.fonts?.ready.then(fit)
    return () => {
      clearTimeout(due)
      o.disconnect()
    }
  }, [])
  useLayoutEffect(() => show.current(), [gone])
  return (
    <div class="figurebox" ref={box} aria-live="off">
      <span class="live-figure" ref={row}><span class="whole" ref={main} /><span class="part" ref={part} /></span>
      <p class="unit1" ref={unitAt}><Say>{unit}</Say> <br />vacuum</p>
    </div>
  )
}

// A pedal is an Enter key: it must not press a key that a finger pressed before.
export const off = (e: MouseEvent) => e.detail && (e.currentTarget as HTMLElement).blur()

/** Keys of a live sheet: each closes the foot's question and asks the run. */
export const tapping = (set: (f: '') => void) => (what: string, more?: { port?: string; test?: number }) => (e: MouseEvent) => {
  off(e)
  set('')
  wake()
  press(what, more)
}

export function EndIt({ what, kept, tap, set }: { what: string; kept: string; tap: ReturnType<typeof tapping>; set: (f: '') => void }) {
  return (
    <div class="bar1 ask1" role="group" aria-label={`End the ${what}?`}>
      <p><b>End the {what}?</b> {kept}</p>
      <button type="button" class="button ink" data-enter onClick={tap('finish')}>End it <kbd>Enter</kbd></button>
      <button type="button" class="button" onClick={() => set('')}>Go on <kbd>Esc</kbd></button>
    </div>
  )
}

export const letters = '123456789bcdehijlmnpqruxyz' // those that press nothing else

function Foot({ run: r, foot, set, step }: { run: Run; foot: Foot; set: (f: Foot) => void; step: string }) {
  const v = r.view
  const { data } = useHead(r.job)
  const meant = useSignal(0) // the test that was offered when Refile was pressed: it stays, whatever is filed meanwhile
  useEffect(() => {
    meant.value = foot === 'refile' ? (v.test?.test ?? v.filed[0]?.test ?? 0) : 0
  }, [foot])
  const check = v.stage === 'blank' || v.stage === 'known-leak'
  const tap = tapping(set)
  if (foot === 'end') return <EndIt what="session" kept="What was filed stays filed." tap={tap} set={set} />
  if (foot) {
    const both = v.test && v.filed.length > 0
    const moved = [v.test, ...v.filed].find(t => t?.test === meant.value) ?? v.test ?? v.filed[0]
    const instead = moved === v.test ? v.filed[0] : v.test
    const move = foot === 'refile'
    const of = move ? moved?.port : v.target
    return (
      <div class="bar1 ports1" role="group" aria-label={move ? 'File it under' : 'Go to'}>
        <p><b>{move ? `Test ${moved?.test} belongs to` : 'Go to'}</b></p>
        <div class="grid">{(data?.head.ports ?? []).map((p, i) => <button type="button" class="button" disabled={p.id === of} data-key={letters[i]} onClick={tap(foot, { port: p.id, test: move ? moved?.test : 0 })}>{p.name}{letters[i] && <kbd>{letters[i].toUpperCase()}</kbd>}</button>)}</div>
        <div class="row"><button type="button" class="button" onClick={() => set('')}>Leave it <kbd>Esc</kbd></button>
          {move && both && <button type="button" class="button" data-key="o" onClick={e => (off(e), (meant.value = instead?.test ?? 0))}>Test {instead?.test}, {instead === v.test ? 'under way' : 'filed last'} <kbd>O</kbd></button>}</div>
      </div>
    )
  }
  const runs = r.relay?.state === 'pulling'
  const pulls = r.relay && (runs || (r.relay.state === 'off' && !v.test))
  const shut = v.test && !v.test.held && step === 'pull' && !runs
  return (
    <div class={'bar1' + (shut || pulls ? ' four' : '')}>
      {v.next || check ? <button type="button" class="button ink next1" data-enter onClick={tap('next')}><span>Next<i>: </i><span>{v.next_name}</span></span> <kbd>Enter or pedal</kbd></button>
        : <button type="button" class="button ink next1" data-enter onClick={e => (off(e), set('end'))}><span>Last port<i>: </i><span>end the session</span></span> <kbd>Enter or pedal</kbd></button>}
      <button type="button" class="button" data-key="a" onClick={tap('again')}>Again <kbd>A</kbd></button>
      {check ? <button type="button" class="button" data-key="k" onClick={tap('skip')}>Skip <kbd>K</kbd></button>
        : <button type="button" class="button" data-key="f" disabled={!v.test && !v.filed.length} onClick={e => (off(e), set('refile'))}>Refile <kbd>F</kbd></button>}
      {pulls && <button type="button" class="button" data-key="p" onClick={e => (off(e), pump(runs ? 'stop' : 'pull'))}>{runs ? 'Pump off' : 'Pump on'} <kbd>P</kbd></button>}
      {shut && <button type="button" class="button" data-key="s" onClick={tap('shut-off')}>Shut now <kbd>S</kbd></button>}
    </div>
  )
}

/** What a session leaves. */
function Over({ run: r, again }: { run: Run; again: () => void }) {
  const v = r.view
  useLive(() => {}) // the last reading comes after the end
  return (
    <Sheet number="Session" title={r.head + ', ended'} line={r.head} nav={[]}>
      <div class="narrow over">
        <h2>The session is ended.</h2>
        <p class="checks">{[v.check.blank, v.check.known].filter(c => c?.words).map(c => <span><Say>{big(c.words)}</Say></span>)}</p>
        <ul class="filedall">{v.filed.map(f => <li><Swatch state={f.state} /><StateWord state={f.state} word={f.word || 'being read'} /><span class="grow">{big(f.name)}</span><span class="leak1"><Say>{leakWords(f.leak)}</Say></span></li>)}</ul>
        {!v.filed.length && <p>Nothing was filed.</p>}
        <RigFaults id={r.rig} />
        <div class="row"><a class="button ink tall grow" data-enter href={'#/heads/' + r.job}>To the job card <kbd>Enter</kbd></a><button type="button" class="button tall" onClick={again}>Another session</button></div>
      </div>
    </Sheet>
  )
}
