@echo off
rem Measure speed and accuracy and write the tables in docs/. scripts/measure [NAME ...]
rem Not tried on Windows yet: written from the sh script beside it.
setlocal
cd /d "%~dp0.."
set PYTHON=python
where py >nul 2>nul && set PYTHON=py -3
%PYTHON% scripts\bootstrap.py run -- scripts/measure.py %*
exit /b %ERRORLEVEL%
