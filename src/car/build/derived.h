/// What follows from a sheet by geometry alone: volumes of one cylinder, piston speed, overlap,
/// table axes.
#pragma once

#include "car/build/sheet.h"
#include "car/tables/surface.h"

namespace fuelwright::car {

/// pi/4 bore^2 stroke cylinders                                                          (build.1)
Volume swept_volume(Length bore, Length stroke, int cylinders);
/// Swept volume of one cylinder: displacement / cylinders, so that a tie to bore and stroke is
/// never needed.
Volume cylinder_volume(const Sheet& sheet);
/// Volume left at top dead centre: V_cyl / (compression - 1)                             (build.2)
Volume clearance_volume(const Sheet& sheet);
/// Mean piston speed 2 stroke n                                                          (build.3)
Speed mean_piston_speed(Length stroke, EngineSpeed n);
/// Overlap of the two lobes at the lift of the given durations, crank degrees; negative if they do
/// not overlap: (intake + exhaust)/2 - 2 lobe separation (build.4)
CrankAngle overlap(CrankAngle intake, CrankAngle exhaust, CrankAngle lobe_separation);
CrankAngle overlap_050(const Sheet& sheet);
/// Pressure of the U.S. Standard Atmosphere 1976 at a geometric altitude, -1000..11,000 m:
/// 101,325 Pa (1 - 0.0065 H/288.15)^5.25588, H = r h/(r + h), r = 6,356,766 m            (build.5)
/// Outside the range the nearest end is taken. Source: the standard (from memory); checked at 2000
/// and 4000 m.
AbsolutePressure standard_pressure(Length altitude);
/// Conductor area of an American wire gauge, n -3 (4/0) to 40:
/// pi/4 (0.127 mm 92^((36 - n)/39))^2                                                    (build.6)
/// Source: ASTM B258 (from memory); 10 AWG 5.261 mm2, 18 AWG 0.823 mm2.
Area gauge_area(int n);
/// Annealed copper: 1/58 ohm mm2/m at 20 degC, 0.00393 per kelvin; R = rho length/area   (build.7)
/// Source: IEC 60028 (from memory). area above 0.
Resistance copper_resistance(Length length, Area area, Temperature t);
/// The places of the nodes of the unit's tables: speed along x, load along y.
Grid table_grid(const Sheet& sheet);
/// The axis kind that a load axis of the sheet means.
AxisKind axis_kind(LoadAxis load);

}  // namespace fuelwright::car
