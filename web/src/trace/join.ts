// Curves with times of their own on one time axis, as the chart takes them. Pure.

export interface Curve {
  x: ArrayLike<number>;
  y: ArrayLike<number | null>;
}

/** The union of all times, then one column a curve: undefined where a curve has no sample, which is no gap. */
export function joined(curves: Curve[]): (number | null | undefined)[][] {
  const x: number[] = [];
  const columns: (number | null | undefined)[][] = curves.map(() => []);
  const at = curves.map(() => 0);
  for (;;) {
    let next = Infinity;
    curves.forEach((curve, i) => {
      const time = curve.x[at[i] as number];
      if (time !== undefined && time < next) next = time;
    });
    if (next === Infinity) return [x, ...columns];
    x.push(next);
    curves.forEach((curve, i) => {
      const column = columns[i] as (number | null | undefined)[];
      const here = at[i] as number;
      if (curve.x[here] === next) {
        column.push(curve.y[here]);
        at[i] = here + 1;
      } else column.push(undefined);
    });
  }
}

/** The charging side laid over the fall: what is still missing of V0, from the start of the charge. */
export function mirrored(curve: Curve, charging_s: number, initial_V: number): Curve {
  const x: number[] = [];
  const y: (number | null)[] = [];
  for (let i = 0; i < curve.x.length; ++i) {
    const time = (curve.x[i] as number) + charging_s;
    const volts = curve.y[i];
    if (time < 0 || (curve.x[i] as number) > 0) continue;
    x.push(time);
    y.push(volts === null || volts === undefined ? null : initial_V - volts);
  }
  return { x, y };
}
