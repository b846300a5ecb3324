/// Help with setting up sensors: curves and transfers from a few measured points.
///
///   FW_TRY(auto curve, thermistor_curve({{celsius(0), 5896}, {celsius(25), 2057}, {celsius(80),
///   323}})); curve.at(2450);                              // Temperature at 2450 ohm FW_TRY(auto
///   map, transfer({{0.5, 20e3}, {4.5, 105e3}})); map.at(2.5);                                 //
///   Pa
///
/// The caller says what the two axes of a transfer are (V to Pa, V to lambda); both are SI numbers.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "base/result.h"
#include "base/units/points.h"
#include "base/units/quantity.h"

namespace fuelwright::advice {

struct ThermistorPoint {
  Temperature temperature;
  double ohm = 0;
};

/// 1/T = a + b ln R + c (ln R)^3, Steinhart and Hart 1968                   (sensor_checks.14)
struct ThermistorCurve {
  double a = 0, b = 0, c = 0;
  Temperature at(double ohm) const;
  /// Resistance at a temperature, by halving between 1 ohm and 10 Mohm.
  double ohm_at(Temperature t) const;
};
/// Errors: out_of_range (outside -60..200 degC or 1 ohm..10 Mohm; points nearer than 3 K; a
/// resistance that does not fall with temperature: then it is no such thermistor).
Result<ThermistorCurve> thermistor_curve(const std::array<ThermistorPoint, 3>& points);

/// What a reading says: value = gain reading + offset.
struct Transfer {
  double gain = 0, offset = 0;
  double at(double reading) const { return gain * reading + offset; }
};
struct TransferPoint {
  double reading = 0;  ///< V, or counts
  double value = 0;    ///< SI
};
/// Errors: out_of_range if the two readings or the two values are the same, or not finite.
Result<Transfer> transfer(const std::array<TransferPoint, 2>& points);

/// Ends of a throttle's travel by its raw readings, in any order of rows.
struct ThrottleEnds {
  double closed = 0, open = 0;  ///< raw
  double noise = 0;             ///< of the raw reading at rest, one standard deviation
  double position(double raw) const { return (raw - closed) / (open - closed); }
};
/// From readings taken while the pedal was pressed to the floor and let go: the level that it rests
/// at first is closed, the one it stays at farthest from that is open. Errors: bad_input with fewer
/// than 20 readings; out_of_range if the ends are nearer than ten times the noise.
Result<ThrottleEnds> throttle_ends(std::span<const double> raw);

/// An analogue line against the digital reading of the same gauge.
struct AnalogueAgainstDigital {
  Transfer correction;  ///< puts the analogue reading right
  double offset = 0;    ///< analogue less digital, at the middle of the readings
  double gain = 1;      ///< d analogue / d digital
  double sd = 0;        ///< of what a line leaves over
  Duration late{};      ///< analogue behind digital; 0 without row spacing
  bool agree = false;   ///< within 0.5 % of lambda everywhere seen
};
/// Rows side by side, lambda; NaN left out. Errors: bad_input (lengths differ, fewer than 30 rows),
/// out_of_range if the mixture moved by less than 3 %.
Result<AnalogueAgainstDigital> analogue_against_digital(std::span<const double> analogue,
                                                        std::span<const double> digital,
                                                        Duration row_step);

}  // namespace fuelwright::advice
