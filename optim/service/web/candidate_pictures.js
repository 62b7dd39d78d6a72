/** The curves of a candidate: torque, power, efficiency, torque angle, back-EMF, losses, short circuit. */

import { curves, stacked } from "./charts.js";
import { efficiencyMap } from "./efficiency_map.js";
import { h } from "./elements.js";
import { numberText, plainText, words } from "./wording.js";

const PART_WORDS = {
  winding_dc: "winding DC",
  winding_ac: "winding AC",
  iron: "iron",
  magnet: "magnets",
  mechanical: "friction",
};

/** Return the panels of a candidate's curves; what a family of rotors has not is left out. */
export function panels(d, family) {
  const panel = (heading, picture) => h("section", { class: "panel" }, h("h2", {}, heading), picture);
  const { torque_angle: angle, torque_speed: speed, loss_split: loss } = d;
  const hasMagnets = family !== "cage";
  const emf = hasMagnets ? d.back_emf : null;
  const partText = (name) => (name === "magnet" && !hasMagnets ? "cage" : (PART_WORDS[name] ?? words(name)));
  return [
    speed &&
      panel(
        "Torque against speed",
        curves({
          label: "Shaft torque against speed",
          x: speed.speed_rpm,
          xTitle: "Speed [r/min]",
          yTitle: "Shaft torque [N·m]",
          series: [
            { name: `${speed.dc_voltage_v} V`, values: speed.nominal_nm, colour: "conductor" },
            { name: `${speed.dc_voltage_min_v} V`, values: speed.lowest_nm, colour: "magnet" },
            { name: "continuous", values: speed.continuous_nm, colour: "moss" },
          ],
        }),
      ),
    speed &&
      panel(
        "Power against speed",
        curves({
          label: "Shaft power against speed",
          x: speed.speed_rpm,
          xTitle: "Speed [r/min]",
          yTitle: "Shaft power [kW]",
          series: [
            { name: `${speed.dc_voltage_v} V`, values: speed.nominal_kw, colour: "conductor" },
            { name: `${speed.dc_voltage_min_v} V`, values: speed.lowest_kw, colour: "magnet" },
            { name: "continuous", values: speed.continuous_kw, colour: "moss" },
          ],
        }),
      ),
    d.efficiency && panel("Efficiency", efficiencyMap(d.efficiency)),
    angle &&
      panel(
        "Torque against current angle",
        curves({
          label: "Air-gap torque against current angle",
          x: angle.angle_deg,
          xTitle: `Current angle from the ${angle.first_axis ?? "q"} axis [°]`,
          yTitle: "Air-gap torque [N·m]",
          series: [
            {
              name: `total, ${plainText(angle.phase_current_a)} A rms`,
              values: angle.total_nm,
              colour: "ink",
            },
            hasMagnets && { name: "magnets", values: angle.magnet_nm, colour: "magnet" },
            hasMagnets && { name: "reluctance", values: angle.reluctance_nm, colour: "iron" },
          ],
          marks: [
            {
              x: angle.best_angle_deg,
              y: angle.best_torque_nm,
              text: `${numberText(angle.best_torque_nm)} N·m`,
            },
          ],
        }),
      ),
    emf &&
      panel(
        "Back-EMF, inverter off",
        curves({
          label: "Back-EMF between lines against speed",
          x: emf.speed_rpm,
          xTitle: "Speed [r/min]",
          yTitle: "Line voltage [V peak]",
          series: [
            {
              name: `magnets at ${plainText(emf.cold_temperature_c)} °C`,
              values: emf.cold_line_peak_v,
              colour: "conductor",
            },
            {
              name: `magnets at ${plainText(emf.rated_temperature_c)} °C`,
              values: emf.rated_line_peak_v,
              colour: "magnet",
            },
          ],
          levels: [
            emf.limit_v !== null && { value: emf.limit_v, text: `limit ${plainText(emf.limit_v)} V` },
            { value: emf.dc_voltage_v, text: `supply ${plainText(emf.dc_voltage_v)} V` },
          ].filter(Boolean),
        }),
      ),
    loss &&
      panel(
        "Losses",
        stacked({
          label: "Losses by part",
          unit: "W",
          parts: loss.parts.map((name) => ({
            name: name.replace("_", "-"),
            text: partText(name),
          })),
          cases: loss.cases.map((c) => ({
            name: c.name,
            condition: c.condition,
            total: c.total_w,
            values: c.parts_w,
          })),
        }),
      ),
    emf &&
      panel(
        "Three-phase short circuit, steady",
        curves({
          label: "Short-circuit current and braking torque against speed",
          x: emf.speed_rpm,
          xTitle: "Speed [r/min]",
          yTitle: "[A rms], [N·m]",
          series: [
            { name: "current [A rms]", values: emf.short_circuit_current_a, colour: "conductor" },
            { name: "braking torque [N·m]", values: emf.braking_torque_nm, colour: "iron" },
          ],
        }),
      ),
  ];
}
