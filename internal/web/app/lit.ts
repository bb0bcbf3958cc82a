// The screen of a session: it stays lit, and can be the whole screen.
import { signal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { stayLit } from './voice'

/** The whole screen is the sheet's. */
export const whole = signal(false)

export const canFill = () => !!document.documentElement.requestFullscreen

export function fill() {
  if (document.fullscreenElement) document.exitFullscreen()
  else document.documentElement.requestFullscreen?.().catch(() => {})
}

/** Keeps the screen lit while a sheet is shown: the lock is lost whenever the page is hidden. */
export function useLit() {
  useEffect(() => {
    let off: (() => void) | null = null
    let gone = false
    const ask = () => {
      if (document.visibilityState !== 'visible') return
      stayLit().then(f => (gone ? f?.() : (off = f)))
    }
    const look = () => (whole.value = !!document.fullscreenElement)
    ask()
    document.addEventListener('visibilitychange', ask)
    document.addEventListener('fullscreenchange', look)
    return () => {
      gone = true
      off?.()
      document.removeEventListener('visibilitychange', ask)
      document.removeEventListener('fullscreenchange', look)
      if (document.fullscreenElement) document.exitFullscreen()
    }
  }, [])
}
