/**
 * Density of air-free water at 101.325 kPa in kg/m³, `temperatureC` from 0 to 40 °C.
 * Source: Tanaka et al., Metrologia 38 (2001) 301–309 (the CIPM formula).
 * @throws RangeError outside 0 to 40 °C, where the formula does not hold.
 */
export function waterDensityKgM3(temperatureC: number): number {
  if (!(temperatureC >= 0 && temperatureC <= 40))
    throw new RangeError(`the density formula holds from 0 to 40 °C; it was asked for ${temperatureC} °C`);
  const [a1, a2, a3, a4, a5] = [-3.983035, 301.797, 522528.9, 69.34881, 999.97495];
  return a5 * (1 - ((temperatureC + a1) ** 2 * (temperatureC + a2)) / (a3 * (temperatureC + a4)));
}
