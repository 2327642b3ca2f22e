# Prices to try the bill with. Every figure is made up, and none is a quotation.

price "made-up" {
  currency       = "EUR"
  date           = "2026-11-02"
  origin         = "made up for this example"
  labour_per_h   = 58
  height_factors = { 3.5 = 1.1, 6 = 1.25 }
  access_factors = { roof = 1.2 }

  cable "cu-4c" {
    per_m = { 16 = 9.8, 25 = 14.6, 35 = 19.7, 50 = 26.9, 70 = 37.5, 95 = 50.6, 120 = 63.4 }
  }
  cable "al-4c" {
    per_m = { 95 = 11.9, 120 = 14.4, 150 = 17.3, 185 = 21.2, 240 = 27, 300 = 33.4 }
  }
  cable "cu-1c" {
    per_m = { 185 = 23.1, 240 = 30, 300 = 37.6, 400 = 49.8 }
  }
  earth "copper" {
    per_m = { 95 = 12.2, 120 = 15.3, 150 = 18.9, 185 = 23.3, 240 = 30.2 }
  }

  lug "copper" {
    each = { 16 = 0.9, 25 = 1.2, 35 = 1.6, 50 = 2.2, 70 = 3.1, 95 = 4.4, 120 = 5.6, 150 = 7.2, 185 = 9.1, 240 = 12, 300 = 16.5, 400 = 23 }
  }
  lug "aluminium" {
    each = { 95 = 3.8, 120 = 4.6, 150 = 5.9, 185 = 7.4, 240 = 9.8, 300 = 13 }
  }
  lug "bimetal" {
    each = { 95 = 9.5, 120 = 11, 150 = 13.2, 185 = 16, 240 = 21, 300 = 28 }
  }
  gland {
    each  = { 20 = 3.2, 25 = 4.1, 32 = 5.8, 40 = 8.4, 50 = 13, 63 = 21, 75 = 34, 90 = 52 }
    hours = { 32 = 0.2, 63 = 0.35, 90 = 0.5 }
  }
  termination "copper" {
    hours = { 16 = 0.08, 25 = 0.1, 35 = 0.12, 50 = 0.15, 70 = 0.18, 95 = 0.22, 120 = 0.26, 150 = 0.3, 185 = 0.35, 240 = 0.42, 300 = 0.5, 400 = 0.6 }
  }
  termination "aluminium" { # with brushing, grease and a second look at the torque
    hours = { 95 = 0.3, 120 = 0.34, 150 = 0.4, 185 = 0.46, 240 = 0.54, 300 = 0.64 }
  }

  laying "perforated-tray" {
    per_m             = 25 # one width for all
    hours_per_m       = 0.25
    lid_per_m         = 11
    lid_hours_per_m   = 0.08
    cable_hours_per_m = { 16 = 0.07, 25 = 0.09, 35 = 0.11, 50 = 0.13, 70 = 0.16, 95 = 0.2, 120 = 0.23 }
  }
  laying "ladder" {
    per_m             = 36
    hours_per_m       = 0.3
    cable_hours_per_m = { 16 = 0.07, 25 = 0.09, 35 = 0.11, 50 = 0.13, 70 = 0.16, 95 = 0.2, 120 = 0.23, 150 = 0.26, 185 = 0.3, 240 = 0.35, 300 = 0.4, 400 = 0.48 }
  }
  laying "buried-duct" {
    per_m             = 46 # the trench, filled again
    hours_per_m       = 0.4
    duct_per_m        = { 110 = 5.2, 160 = 9.4 }
    duct_hours_per_m  = 0.06
    cable_hours_per_m = { 95 = 0.14, 120 = 0.16, 150 = 0.18, 185 = 0.21, 240 = 0.25, 300 = 0.29 }
  }
  laying "buried" {
    per_m             = 52 # the trench, with sand and a warning tape
    hours_per_m       = 0.45
    cable_hours_per_m = { 150 = 0.1, 185 = 0.12, 240 = 0.14, 300 = 0.17, 400 = 0.2 }
  }
}
