# A cold store of two halls: 400 kVA of solar and a battery. Everything here is made up.

site "cold-store" {
  ratings                    = "iec-60364-5-52:2009"
  stage                      = "approval"
  voltage_v                  = 400
  frequency_hz               = 50
  air_c                      = 35
  soil_c                     = 20
  soil_km_w                  = 1.5
  rise_limit_percent         = 2.0
  rise_limit_origin          = "connection offer of 11 March, clause 4"
  drop_limit_percent         = 5.0
  drop_limit_origin          = "client's brief, page 6"
  utilisation_target_percent = 95

  economy {
    currency              = "EUR"
    energy_per_kwh        = 0.08
    energy_origin         = "made up"
    energy_growth_percent = 1.5
    discount_percent      = 5
    years                 = 20
    capacity_factor       = 0.18
    loss_factor           = 0.1
    factors_origin        = "made up"
  }
}

supply "kiosk" {
  fault_ka       = 18.5
  fault_min_ka   = 11.0
  earth_loop_ohm = 0.03
  earthing       = "tn-c-s"
  x_over_r       = 2.2
  max_v          = 424
  origin         = "connection offer of 11 March, annex"
}

board "main" {
  rated_a             = 2500
  rated_short_time_ka = 35
  holds               = "loads" # 1250 A of the supply and 800 A of the sources meet here
  gland_plate         = "aluminium"
}

board "generation" {
  rated_a             = 1000
  rated_short_time_ka = 25
  diversity           = 1.0
  gland_plate         = "aluminium"
  terminals {
    materials = ["copper", "aluminium"]
  }
}

board "hall-north" {
  rated_a             = 400
  rated_short_time_ka = 15
  diversity           = 1.0
  terminals {
    materials = ["copper", "aluminium"]
  }
}

board "hall-south" {
  rated_a             = 400
  rated_short_time_ka = 15
  diversity           = 1.0
  terminals {
    materials = ["copper", "aluminium"]
  }
}
