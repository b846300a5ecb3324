// Names, reasons and advice of every check: what a mechanic would be told.
#include <array>

#include "advice/sensor_checks/finding.h"
#include "base/contract.h"

namespace fuelwright::advice {
namespace {

using C = Check;
constexpr std::array<CheckWords, kChecks> kWords{{
    {C::ambient_pressure, "ambient_pressure", "manifold pressure with the engine off",
     "Air and fuel are computed from it: at idle 2 kPa too much is 5 % too much fuel.",
     "Compare with a barometer at the place (not the sea-level figure of a weather "
     "report); then check the sensor's transfer, its 5 V supply and earth, and its hose."},
    {C::temperatures_agree, "temperatures_agree", "coolant and intake air after a soak",
     "After a night both are as warm as the garage; the one that differs is wrong, and warm-up "
     "fuel with it.",
     "Measure both with a thermometer; check the thermistor curve and the pull-up "
     "resistor, then connector and earth."},
    {C::throttle_ends, "throttle_ends", "throttle travel",
     "Idle, overrun cut and pump shot are found by the closed end, full throttle by the open one.",
     "Set the two ends; with a worn track (a jump on the way) replace the sensor."},
    {C::battery_at_rest, "battery_at_rest", "battery at rest",
     "A weak battery starves pump and injectors while cranking, and lengthens their dead time.",
     "Charge and test the battery; check earths."},
    {C::mixture_in_free_air, "mixture_in_free_air", "mixture sensor in free air",
     "Air is its one free reference: what reads short of full lean there is off everywhere.",
     "Let it heat up in free air and calibrate it; check scale and constant of its gauge; "
     "replace it if it will not."},
    {C::fuel_pressure_static, "fuel_pressure_static", "static fuel pressure",
     "Injector flow goes with the square root of the pressure: 0.3 bar of 3 are 5 % of fuel.",
     "Check regulator, its hose and the pressure sensor. Fuel under pressure: no sparks, "
     "no smoking, eye protection."},
    {C::fuel_pressure_decay, "fuel_pressure_decay", "fuel pressure with the pump stopped",
     "Pressure that falls away leaks: through a check valve, the regulator, or an injector into a "
     "cylinder.",
     "Look and smell for fuel first. Then clamp the feed and the return in turn to find where it "
     "goes."},
    {C::clock_gaps, "clock_gaps", "gaps in time",
     "Film, exhaust and sensor remember the seconds that are missing; what follows cannot be "
     "placed.",
     "Record less, or to a quicker medium; check the link's cable and buffer."},
    {C::clock_jitter, "clock_jitter", "unsteady time stamps",
     "Mixture is read a few tenths of a second late; stamps that wander blur that.",
     "Let the unit stamp the rows, not the computer that writes them."},
    {C::rate, "rate", "rows too far apart",
     "What happens between two rows is not seen: transients teach nothing.",
     "Record at 10 rows a second or more, with fewer channels if need be."},
    {C::polled, "polled", "values polled in turn",
     "Values of one row belong to different moments: while anything moves they do not fit "
     "together.",
     "Record fewer channels or by a quicker link; hold each point for some seconds."},
    {C::dropouts, "dropouts", "blank values",
     "Blanks cost rows; many of them mean a bad contact or an overloaded link.",
     "Check connector and cable; record fewer channels."},
    {C::spikes, "spikes", "readings that jump away and back",
     "Nothing in an engine does that: a contact opens, and the unit fuels by what it reads.",
     "Wriggle connector and loom while watching the value; check pins, crimps and earth."},
    {C::stuck, "stuck", "value stood still while the engine moved",
     "The unit fuels by a value that is no longer true.",
     "Check sensor, hose and connector; if only the recording stood still, its link."},
    {C::quantised, "quantised", "coarse steps",
     "Half a step is an error of every row; it does not average out at a steady point.",
     "Take the channel in its finer form, or widen the converter's range to the sensor."},
    {C::saturated, "saturated", "at the end of the range",
     "Beyond its end a sensor shows a value that is not the true one.",
     "Fit a sensor for the range, or correct its transfer; rows at the end are not used."},
    {C::noise, "noise", "noise on manifold pressure", "Noise in pressure is noise in fuel.",
     "Check earth and shielding; a small volume in the hose calms pulsation."},
    {C::noise_with_speed, "noise_with_speed", "noise that follows engine speed",
     "Noise in step with the crank is picked up from ignition or injectors, and does not average "
     "out.",
     "Route sensor wires away from coils and plug leads; resistor plugs; sensor earth to the unit "
     "alone."},
    {C::pulsation, "pulsation", "manifold pressure pulsates at idle",
     "A big cam makes pressure swing with each intake stroke; samples catch any part of it.",
     "Take pressure from the plenum, not from one runner; let the unit average over a cycle."},
    {C::trigger, "trigger", "trigger errors",
     "A tooth lost or added moves spark and fuel for a moment; spark may fall where it harms.",
     "Check gap, wheel and polarity of the pick-up, its shield, and the filter of the "
     "unit. No pulls until it is clean."},
    {C::map_offset, "map_offset", "manifold pressure reads off",
     "Every cell is looked up and fuelled by it.",
     "Key on, engine off, it must read the pressure of the place; check transfer, supply and "
     "earth."},
    {C::map_follows, "map_follows", "manifold pressure follows only in part",
     "The load that the unit believes is not the load that is there: rich when light, lean when "
     "heavy.",
     "Check the hose for a kink, a plug or water, and the sensor's transfer at two "
     "pressures. No pulls until it follows."},
    {C::throttle_and_map, "throttle_and_map", "throttle against manifold pressure",
     "With the throttle open the manifold must come to the air outside; with it shut and "
     "speed high, to a vacuum.",
     "Check throttle ends, linkage, and the pressure hose; a clogged air filter does it too."},
    {C::coolant_steps, "coolant_steps", "coolant reading jumps",
     "Water cannot change so fast: warm-up fuel comes and goes with a bad contact.",
     "Check connector and earth of the coolant sensor; bleed the cooling system."},
    {C::coolant_warms, "coolant_warms", "coolant does not warm as it should",
     "While it reads cold the unit adds warm-up fuel and stays out of closed loop.",
     "Feel the hoses (moving fan, hot parts): thermostat or sensor? Check both."},
    {C::intake_steps, "intake_steps", "intake air reading jumps", "Each 3 K are 1 % of air.",
     "Check connector and earth of the intake air sensor."},
    {C::heat_soak, "heat_soak", "intake sensor soaked with heat",
     "Standing still the sensor's body is hotter than the air: the unit takes fuel away that is "
     "needed.",
     "Nothing is wrong with the parts; idle rows with it are not used. Move the sensor to "
     "the cold side, or limit the correction at idle."},
    {C::voltage, "voltage", "charging voltage",
     "Pump and injectors weaken and dead time grows with each volt missing; too much harms "
     "electronics.",
     "Check alternator, belt, earths, and the drop to pump and unit under load."},
    {C::fuel_demand, "fuel_demand", "rail pressure sags under demand",
     "Lean exactly where it hurts, and no table can put it right.",
     "No full throttle. Check filter, pump voltage under load, pump, lines and tank "
     "pick-up. Fuel under pressure burns."},
    {C::regulator, "regulator", "rail pressure off everywhere",
     "Injector flow goes with the square root of the pressure: the whole table carries the error.",
     "Check regulator setting, its reference hose, and the pressure sensor; put the true "
     "pressure into the sheet."},
    {C::mixture_in_cut, "mixture_in_cut", "mixture sensor in a fuel cut",
     "Without fuel there is only air in the pipe: a sound sensor reads full lean. This one does "
     "not.",
     "Check scale and constant of the gauge, then the sensor in free air; a leaking injector reads "
     "so too."},
    {C::mixture_slow, "mixture_slow", "mixture sensor slow",
     "Late and blurred readings are laid to the wrong cells.",
     "Check its heater and age; move a sensor that sits in a dead corner or a shield; replace it."},
    {C::exhaust_slow, "exhaust_slow", "long way to the mixture sensor",
     "Nothing is wrong: pipe and gas take their time, most at light load.",
     "Say the sensor's distance on the sheet; it is reckoned with."},
    {C::mixture_cold, "mixture_cold", "mixture sensor not warm",
     "Until its heater has done its work the reading means nothing.",
     "These seconds are not used. Give it half a minute with the key on before starting; "
     "check its heater if it takes longer."},
    {C::mixture_dead, "mixture_dead", "mixture sensor dead",
     "Its reading does not move with the engine: nothing is learned, and closed loop runs away.",
     "Check heater, connector, controller and its analogue line."},
    {C::misfire, "misfire", "misfire",
     "A cylinder that does not burn sends its air to the sensor: it reads lean while it is "
     "not. Unburnt fuel overheats a catalyst.",
     "Check plugs, leads, coils and compression before any fuel is added."},
    {C::overlap_idle, "overlap_idle", "idle reads lean by dilution",
     "With much overlap some cycles do not burn at idle; their oxygen reads lean.",
     "Do not chase it with the table: find idle by steadiest speed and pressure. These "
     "rows do not measure the mixture."},
    {C::exhaust_leak, "exhaust_leak", "exhaust leak before the sensor",
     "Air is drawn in at low flow and reads lean; at high flow it reads right.",
     "Listen and feel for a leak at gaskets and joints, cold (hot parts). Do not add fuel for it."},
    {C::level_step, "level_step", "fuel and air changed everywhere at once",
     "Another fuel in the tank, a pressure that changed, an injector or a cylinder lost: "
     "the table did not change, the car did.",
     "Ask what was filled up; check rail pressure and each injector. Each part is estimated by "
     "itself."},
    {C::level_drift, "level_drift", "mixture wanders slowly",
     "A reading that drifts teaches the table its drift.",
     "Check the sensor in free air or in a fuel cut before and after; check its "
     "temperature and the battery."},
    {C::standing_correction, "standing_correction", "the unit corrects all the time",
     "A steady correction of the same sign means that fuel or air is not what the tables think.",
     "Find the cause before taking it into the tables: pressure, injectors, air meter, a leak, the "
     "fuel."},
    {C::banks, "banks", "the two banks disagree",
     "One of them is lean where the other is right: engine, injectors or a sensor.",
     "Swap the sensors: does it go with the sensor or stay with the bank? Then injectors and "
     "leaks."},
}};

}  // namespace

const char* name_of(Grade grade) {
  switch (grade) {
    case Grade::fine:
      return "fine";
    case Grade::doubt:
      return "doubt";
    case Grade::stop:
      return "stop";
  }
  broken_contract("a Grade", __FILE__, __LINE__);
}

std::span<const CheckWords> all_checks() { return kWords; }
const CheckWords& words_of(Check check) {
  const auto at = static_cast<std::size_t>(check);
  EXPECTS(at < kWords.size() && kWords[at].check == check);
  return kWords[at];
}

}  // namespace fuelwright::advice
