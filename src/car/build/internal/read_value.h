/// One value of a sheet file: from a TOML node to SI, tolerance and source.
///
/// A value is a string with its unit ("4.030 in", "10.2 +- 0.2"), a bare number where the key has
/// no dimension, an array for a list, or an inline table that says more: { value = "10.2 +- 0.2",
/// source = "measured", note = "..." }, { values = [0.1, 0.2], unit = "in", tolerance = "2 %" }.
#pragma once

#include <toml++/toml.h>

#include <string>

#include "base/result.h"
#include "car/build/internal/keys.h"

namespace fuelwright::car {

/// A value with its inline table unwrapped.
struct Written {
  const toml::node* value = nullptr;
  Source source = Source::stated;
  std::string note;
  std::string unit;       ///< of bare numbers; empty if not said
  std::string tolerance;  ///< as text; empty if not said
};
Result<Written> unwrap(const toml::node& node);

/// The number, list, choice or text that a key asks for. `sheet` says the mixture scale and the
/// load axis. Errors carry no place: the caller knows it.
Result<Held> read_held(const Key& key, const Written& written, const Sheet& sheet);

/// The injector's flow: a mass flow, or a volume flow of the rated fluid; "36 lb/h at 43.5 psi"
/// states its pressure too.
struct InjectorFlow {
  Held flow;  ///< kg/s, or m3/s if by_volume
  bool by_volume = false;
  std::string as_written;
  bool has_pressure = false;
  Held pressure;
};
Result<InjectorFlow> read_injector_flow(const Written& written, const Sheet& sheet);

}  // namespace fuelwright::car
