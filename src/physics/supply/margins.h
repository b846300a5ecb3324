/// Margins over engine speed, and which part is the weak one.
///
///   margin = what can be sent / what is needed - 1 (supply.20)
///
/// of pump, injectors and lift pump, each at the rail pressure the regulator is set to. The first
/// speed at which one of them falls below 0 is where the system runs out. A lift pump may be short
/// for as long as the surge tank lasts: its margin counts what a full surge tank adds over the
/// longest pull.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "physics/supply/balance.h"

namespace fuelwright::physics::supply {

enum class Side : std::uint8_t { injectors, pump, lift };
inline constexpr std::array<Side, 3> kSides{Side::injectors, Side::pump, Side::lift};

/// The part to blame: what must be changed, not only what is felt.
enum class Weak : std::uint8_t {
  none,
  injectors,     ///< too small
  one_injector,  ///< one is smaller than the others
  regulator,     ///< its reference or its setting
  pump,          ///< too small or worn
  wiring,        ///< loses too many volts
  charging,      ///< the alternator does not hold the voltage
  hose,
  filter,
  inlet,  ///< fuel boils before the pump: hot fuel, narrow suction
  lift_pump,
};
const char* name_of(Weak part);

struct Margins {
  std::array<double, 3> of{};  ///< by Side [-]
  double operator[](Side s) const { return of[static_cast<std::size_t>(s)]; }
  Side tightest() const;
  double least() const { return (*this)[tightest()]; }
};
inline constexpr Duration kLongestPull = 15.0 * second;  ///< through the gears (practice)

/// (supply.20) at one speed; 1e3 at most. A need of 0 has margins of 1e3.
Margins margins_at(const System& s, const Need& need);

/// The least margins over some needs, and where each of them is.
struct Tightest {
  Margins margins;
  std::array<std::size_t, 3> at{};
};
Tightest tightest_of(const System& s, std::span<const Need> needs);

/// The speed at which the margin of a side first falls through `goal`: between two needs by the
/// straight line; none if it never does. The first speed if it is below there.
std::optional<EngineSpeed> runs_out(std::span<const Need> needs, std::span<const Margins> margins,
                                    Side side, double goal = 0);

/// What is to blame where `side` falls short of `goal` at this need: the part which, put into the
/// state that good practice knows, restores it by itself and gains 4 % or more; the one that gains
/// most, if several do; else the injectors, the pump or the lift pump themselves. `none` if the
/// side is not short.
///
/// Good practice (no source): wiring loses 0.5 V, filter and hose 10 kPa each, the regulator
/// follows the manifold at the injectors' rated pressure, no injector is 5 % below the middle one,
/// the inlet does not boil, the battery stands at 13.5 V.
Weak blame(const System& s, const Need& need, Side side, double goal = 0);

}  // namespace fuelwright::physics::supply
