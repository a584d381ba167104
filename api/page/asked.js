// What can be asked of riders, set-ups and conditions: the contract's fields, their words and
// ranges.

import { clean } from "./course.js";

const more = { more: true };

export const riderFields = [
  ["name", "Name", "text"],
  ["mass_kg", "Mass", "mass", 20, 250, { required: true }],
  ["height_m", "Height", "stature", 1, 2.5],
  ["power_w", "Power", "W", 1, 4000, { hint: "to hold on this course" }],
  ["critical_power_w", "Critical power", "W", 10, 1000],
  ["w_prime_j", "W′", "kJ", 500, 100000, { hint: "work above critical power" }],
  ["max_power_w", "Maximal power", "W", 50, 4000, more],
  ["cda_m2", "Drag area", "m²", 0.05, 2, more],
  ["gross_efficiency", "Gross efficiency", "share", 0.1, 0.35, more],
  ["recovery_rate", "Recovery rate of W′", "", 0, 10, more],
];

export const setupFields = [
  ["name", "Name", "text"],
  ["mass_kg", "Mass", "mass", 0, 100],
  ["cda_change_m2", "Drag area, change", "m²", -1, 1, { hint: "added to the rider's" }],
  ["crr", "Rolling resistance", "", 0, 0.1],
  ["cda_m2", "Drag area", "m²", 0.05, 2, { more: true, hint: "in place of the rider's" }],
  ["drivetrain_efficiency", "Drivetrain efficiency", "share", 0.5, 1, more],
  ["wheel_inertia_kg_m2", "Inertia of the wheels", "kg·m²", 0, 2, more],
  ["wheel_radius_m", "Radius of the wheels", "m", 0.1, 0.6, more],
  ["wheel_drag_area_m2", "Drag area of the wheels' spin", "m²", 0, 0.1, more],
  ["bearing_n", "Bearings", "N", 0, 5, more],
  ["bearing_n_s_per_m", "Bearings, by speed", "N·s/m", 0, 1, more],
];

export const conditionFields = [
  ["indoor", "Where", [["", "outdoors"], ["true", "indoors"]]],
  ["temperature_c", "Temperature", "°C", -40, 55],
  ["wind", "Wind", [["", "calm"], ["1", "from a direction"], ["2", "head on, everywhere"]]],
  ["wind_mps", "Wind", "speed", 0, 40, { required: true, hint: "at 10 m" }],
  ["wind_from_deg", "Wind from", "°", 0, 360, { required: true, hint: "0 is north, 90 east" }],
  ["headwind_mps", "Headwind", "speed", -30, 30, { required: true, hint: "at the rider; below 0 from behind" }],
  ["shelter", "Drag left in the bunch", "share", 0, 1, { hint: "100 % is riding alone" }],
  ["start_speed_mps", "Speed at the start", "speed", 0, 40],
  ["pressure_hpa", "Air pressure", "hPa", 300, 1100, more],
  ["humidity_pct", "Humidity", "%", 0, 100, more],
  ["air_density_kg_m3", "Air density", "kg/m³", 0.1, 2, { more: true, hint: "holds everywhere" }],
  ["wind_roughness_m", "Roughness of the ground", "m", 0.0001, 2, more],
  ["load_kg", "Bottles and clothes", "mass", 0, 50, more],
  ["coast_above_mps", "Freewheeling above", "speed", 1, 100, more],
  ["bends", "Bends", [["", "limit the speed"], ["false", "are ridden at any speed"]], 0, 0, more],
  ["braking", "Braking", [["", "takes its way"], ["false", "is immediate"]], 0, 0, more],
  ["lateral_mps2", "Most acceleration in bends", "m/s²", 0.5, 20, more],
  ["braking_mps2", "Most deceleration", "m/s²", 0.5, 10, more],
];

export const effortFields = [
  ["kind", "They ride", [["\"own_power\"", "each at the power above"], ["\"power\"", "all at the same power"], ["\"power_per_mass\"", "all at the same power per kilogram"],
    ["\"fraction\"", "at a share of their critical power"], ["\"time\"", "in a given time"], ["\"best\"", "with all they have, as planned"]]],
  ["power_w", "Power", "W", 0, 4000, { required: true }],
  ["w_per_kg", "Power per mass", "W/kg", 0, 50, { required: true }],
  ["of_critical_power", "Of critical power", "share", 0, 5, { required: true }],
  ["time_s", "Time", "clock", 1, 1000000, { required: true }],
];

/** The field that a kind of effort needs beside its kind. */
export const effortNeeds = { power: "power_w", power_per_mass: "w_per_kg", fraction: "of_critical_power", time: "time_s" };

/** What requests about riders have in common, from the store. */
export const askedOf = (store) => clean({ riders: store.get("riders"), setups: store.get("setups"), conditions: store.get("conditions") });

/** The words of what a prediction may be in doubt of. */
const doubts = {
  mass_kg: "mass", cda_m2: "drag area", crr: "rolling resistance", power_pct: "power", wind_mps: "wind", temperature_c: "temperature",
  drivetrain_efficiency: "drivetrain efficiency",
};

/** Says in words what a pointer into a request names: whose, what, and in what quantity it is typed. */
export function pointed(pointer) {
  const [, list, index, name] = pointer.match(/^#\/(\w+)(?:\/(\d+))?(?:\/(\w+))?/) ?? [];
  const specs = { riders: riderFields, setups: setupFields, conditions: conditionFields }[list];
  const words = specs?.findLast((s) => s[0] === name)?.[1] ?? (list === "uncertainties" ? `Doubt of ${doubts[name] ?? name}` : name);
  return { list, index: index === undefined ? null : Number(index), words, quantity: specs?.findLast((s) => s[0] === name)?.[2] };
}
