/** The modified Bessel function of the first kind and order zero, by its power series. */
function besselI0(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; term > sum * 1e-17; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/**
 * Kaiser's window, not normalised: largest at place 0, and falling to either side until ±1.
 *
 * @param shape Kaiser's β: 0 is a rectangle; larger values give a wider main lobe and lower side lobes
 */
export function kaiserWindow(place: number, shape: number): number {
  return besselI0(shape * Math.sqrt(Math.max(0, 1 - place ** 2)));
}
