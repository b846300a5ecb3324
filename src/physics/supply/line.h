/// Pressure lost in a pipe or hose, and in a filter.
///
///   dp = (f L/D + K) rho v^2/2,  v = 4 Q/(pi D^2)                        Darcy-Weisbach (supply.4)
///   f = 64/Re below Re 2000                                              Poiseuille     (supply.5)
///   1/sqrt f = -2 lg(e/(3.7 D) + 2.51/(Re sqrt f)) above 4000            Colebrook      (supply.6)
///   between them the straight line from one to the other
///   filter: dp = dp_rated Q/Q_rated                     Darcy's law in the paper (supply.7)
///
/// Sources: Darcy-Weisbach and Colebrook (1939) as in any handbook of hydraulics (from memory);
/// Colebrook's equation is solved, not approximated (to 1e-10). The range 2000..4000 is neither,
/// and the line is a convention. Fittings: K 0.5 entry, 1 exit, 0.3 a bend (from memory).
#pragma once

#include "base/units/points.h"
#include "physics/supply/liquid.h"

namespace fuelwright::physics::supply {

struct Pipe {
  Length length;
  Length diameter;                ///< inside
  Length roughness = 0.005 * mm;  ///< e; drawn tube and rubber hose 1.5 to 10 um (from memory)
  double fittings = 3.0;          ///< K, entry, exit and some bends [-]
};

/// f of (supply.5, supply.6) [-]; reynolds above 0, relative roughness e/D 0..0.05.
double friction_factor(double reynolds, double relative_roughness);

/// (supply.4). Zero at zero flow; flow 0 or more. Rises steadily with the flow.
PressureStep pipe_loss(const Pipe& pipe, VolumeFlow flow, Density rho, double viscosity_pa_s);

struct Filter {
  PressureStep loss{};  ///< at `at`
  VolumeFlow at{};
};
PressureStep filter_loss(const Filter& filter, VolumeFlow flow);  ///< (supply.7)

}  // namespace fuelwright::physics::supply
