/// The three ways of making a table from a recording that are compared here.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>

#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "judge.h"

namespace fuelwright::bench {

/// What a method says of the table at a place.
using Says = std::function<Answer(const car::OperatingPoint&)>;

/// A recording as the methods get it: of a constant of 14.7, which was asked for.
signals::Recording read(const std::string& csv);
/// The first minutes of a recording at 20 rows a second.
std::string first_minutes(const std::string& csv, double minutes);

/// Averaging as a careful tuner does it: bilinear shares, only moments before which manifold
/// pressure and speed have been steady, readings taken back by a delay, the closed-loop correction
/// counted in, nodes pulled to the mean of all as if that had been seen for a while. Settings
/// chosen on cars 101 to 112 (`tune`).
struct Averaging {
  double settle_s = 0.1;
  double delay_s = 0.35;
  double steady_ln = 0.10;  ///< pressure and speed within this over the settle time
  double pull_s = 3.0;      ///< of driving at a node, that the mean of all counts as
};
Says averaged(const signals::Recording& recording, const car::Surface& found,
              const Averaging& settings);

/// Fuel and air from where: as advice::ObserveOptions::way.
Says by_static_form(std::span<const signals::Recording> recordings, const TestCar& car,
                    advice::Way way);

struct Dynamic {
  advice::DynamicEstimate estimate;
  double seconds = 0;  ///< of one core, channels to table
  Says says() const;
};
Dynamic by_dynamic_form(std::span<const signals::Recording> recordings, const TestCar& car,
                        advice::Way way,
                        const std::function<void(advice::DynamicOptions&)>& settings = {});

}  // namespace fuelwright::bench
