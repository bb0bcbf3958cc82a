// Figures as needle gauges show them: typed, stepped and shown with fractions.
const parts: Record<string, number> = { '¼': 0.25, '½': 0.5, '¾': 0.75, '⅛': 0.125, '⅜': 0.375, '⅝': 0.625, '⅞': 0.875 }

/** What a plain figure typed at a needle's field is; NaN where it is not plain. */
export function needle(text: string): number {
  let t = text.trim().replace(',', '.')
  let add = 0
  for (const [k, v] of Object.entries(parts)) if (t.includes(k)) {
    add = v
    t = t.replace(k, '').trim()
  }
  const m = t.match(/^(?:(\d+)\s+)?(\d+)\/(\d+)$/)
  if (m) return (+(m[1] ?? 0)) + +m[2] / +m[3] + add
  if (t === '') return add || NaN
  return /^\d+(\.\d+)?$/.test(t) ? +t + add : NaN
}

/** A figure to the nearest step: quarters and halves as fractions. */
export function marks(x: number, step: number): string {
  const r = Math.max(0, Math.round(x / step) * step)
  if (step >= 1) return String(Math.round(r))
  const whole = Math.floor(r + 1e-9)
  const rest = r - whole
  const f = Object.entries(parts).find(([, v]) => Math.abs(v - rest) < 1e-6)
  if (f) return (whole ? String(whole) : '') + f[0]
  if (rest < 1e-6) return String(whole)
  return String(+r.toFixed(2))
}

/** The step of the buttons in a unit where the rig does not say. */
export const usualStep = (unit: string) => ({ inHg: 0.25, kPa: 0.5, mbar: 5, mmHg: 5, psi: 0.1 })[unit] ?? 0.5
